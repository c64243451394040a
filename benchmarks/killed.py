"""Is anything lost or mixed when runs are killed? Kills at random moments, and the files they leave.

Run: python benchmarks/killed.py --trials 200 --seed 1

Two cases are run into a folder each, twice, which must give the same bytes. Then
both are run in turn into one folder and killed without a word (SIGKILL) at
random moments. After each kill the folder must hold all files of one run or all
of the other; where the kill fell between two moves, the next run must mend it.
Last, both are begun at once into one folder. Exit status 1 if anything is lost
or mixed. Needs a POSIX system.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from annulus.commands.folder import READY

ROOT = Path(__file__).parents[1]
CASE = (ROOT / "cases/bath-house-sand/case.toml").read_text(encoding="utf-8").replace("turns = 30", "turns = {turns}")
WRITING = 0.25  # share of kills aimed at the last tenth of a run, where files are written

QUICKER = 0.98

Files = dict[str, bytes]


def begin(case: Path, out: Path) -> subprocess.Popen[bytes]:
    words = [sys.executable, "-m", "annulus", "steady", str(case), "--out", str(out)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def held(folder: Path) -> Files:
    """Bytes of every file of a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.is_dir() else {}


def main() -> int:
    """Kill, look, count."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng = random.Random(options.seed)
    found: Counter[str] = Counter()
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cases, whole, took = [], [], 0.0
        for turns in (1, 2):
            case = folder / f"case-{turns}.toml"
            case.write_text(CASE.format(turns=turns), encoding="utf-8")
            cases.append(case)
            seen: list[Files] = []
            for _ in range(2):
                begun = time.perf_counter()
                if begin(case, folder / f"whole-{turns}").wait() != 0:
                    faults.append(f"{case.name} does not run")
                took = time.perf_counter() - begun
                seen.append(held(folder / f"whole-{turns}"))
            if seen[0] != seen[1]:
                faults.append(f"{case.name}: two runs differ in {[n for n in seen[0] if seen[0][n] != seen[1].get(n)]}")
            whole.append(seen[1])
        allowed = [{}, *whole]
        out = folder / "out"
        killed = trial = 0
        while killed < options.trials:
            trial += 1
            run = begin(cases[trial % 2], out)
            share = rng.uniform(0.9, 1.05) if rng.random() < WRITING else rng.uniform(0.0, 1.0)
            time.sleep(share * took)
            ended = run.poll() is not None
            run.kill()
            run.wait()
            killed += not ended
            took *= QUICKER if ended else 1.0  # a machine less busy than at the start
            now = held(out)
            if now in allowed:
                found["done before the kill" if ended else "killed, folder as before or as after"] += 1
            elif (folder / f".out{READY}").is_dir():
                found["killed between moves, left to the next run"] += 1
            else:
                faults.append(f"trial {trial}: {sorted(now)} is neither run")
        begin(cases[0], out).wait()
        if held(out) != whole[0] or any(path.name.startswith(".") for path in folder.iterdir()):
            faults.append(f"the last run does not mend the folder: {sorted(path.name for path in folder.iterdir())}")
        pair = [begin(case, folder / "both") for case in cases]
        statuses = [run.wait() for run in pair]
        if held(folder / "both") not in whole:
            faults.append(f"two runs at once are mixed; they ended with {statuses}")
        found[f"two at once ended with {sorted(statuses)}"] += 1
    print(f"{trial} runs begun, {killed} killed while they worked; a run takes {took:.1f} s")
    for words, times in found.most_common():
        print(f"{times:7d}  {words}")
    print("\n".join(faults) or "nothing lost, nothing mixed")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
