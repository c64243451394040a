"""Draw the README's pictures anew: run `python .pictures/draw.py` in the project's folder, with annulus installed.

Every picture is what one command of the README writes, scaled down to a page's width. Takes some minutes.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image  # comes with matplotlib

HERE = Path(__file__).parent
WIDTH = 1400  # [pixels]
COLOURS = 256
KEEP_RARE = Image.Quantize.MAXCOVERAGE  # the median cut gives thin coloured lines the colour of their neighbours
PASSES = 1  # of k-means after that, which give wide areas their own colour back

# picture: the command's words, less its --out, and the file that it writes
PICTURES = {
    "compare": (
        "compare",
        *(f"cases/bath-house-{kind}" for kind in ("bare", "insulated", "sand", "graphite")),
        "compare.png",
    ),
    "burn": ("burn", "cases/bath-house-sand", "history.png"),
    "gaps": ("gaps", "cases/bath-house-sand", "gaps.png"),
    "sensitivity": ("sensitivity", "cases/bath-house-sand", "sensitivity.png"),
    "study-gap": ("sweep", "cases/study-gap", "curves.png"),
    "study-spacing": ("sweep", "cases/study-spacing", "curves.png"),
    "study-clearance": ("sweep", "cases/study-clearance", "curves.png"),
}


def main() -> None:
    """Draw those named on the command line, or all."""
    for name in sys.argv[1:] or PICTURES:
        *words, file = PICTURES[name]
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run([sys.executable, "-m", "annulus", *words, "--out", folder], check=True)
            picture = Image.open(Path(folder) / file).convert("RGB")
        height = round(picture.height * WIDTH / picture.width)
        small = picture.resize((WIDTH, height), Image.Resampling.LANCZOS).quantize(COLOURS, KEEP_RARE, kmeans=PASSES)
        small.save(HERE / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
