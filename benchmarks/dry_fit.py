"""How soon the dry fit's page follows a knob: from the key that turns it to the picture that shows it.

    PYTHONPATH=tests python benchmarks/dry_fit.py cases/bath-house-sand

Needs a Chromium. Every knob in turn is moved by keys, some steps each; what is read is the page's own clock,
from the turn to the picture drawn, section, stripes and ledger included. Run on an idle machine.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import threading
import time
from pathlib import Path

from browser import Browser, find_browser

from annulus.case import load
from annulus.dryfit.knobs import knobs_of
from annulus.dryfit.server import Server
from annulus.dryfit.trial import Bench

STEPS = 5  # of each knob
REST = 0.05  # between keys, as a hand rests [s]


def main() -> None:
    """Turn every knob that is a number; print the times by knob."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", type=Path)
    case = load(parser.parse_args().case)
    path = find_browser()
    if path is None:
        raise SystemExit("no Chromium on this machine")
    bench = Bench(case)
    bench.warm_up(lambda words: None)
    with tempfile.TemporaryDirectory() as folder, Server(bench, Path(folder)) as server, Browser(path) as page:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        page.open(server.address)
        page.wait(lambda: page.run("document.body.dataset.refined") == "true")
        every: list[float] = []
        for knob in knobs_of(case):
            if knob.choices:
                continue
            page.run(f"document.getElementById('knob-{knob.key.replace('.', '-')}').focus()")
            took = []
            for _ in range(STEPS):
                wave = page.run("document.body.dataset.wave")
                page.press("ArrowRight")
                page.wait(lambda wave=wave: page.run("document.body.dataset.wave") != wave)
                took.append(float(page.run("document.body.dataset.took")))
                time.sleep(REST)
            every += took
            print(f"{knob.words:28s} median {statistics.median(took):.2f} s, longest {max(took):.2f} s", flush=True)
        within = sum(one <= 0.5 for one in every) / len(every)
        print(f"all: median {statistics.median(every):.2f} s, {within:.0%} within 0.5 s, longest {max(every):.2f} s")
        server.shutdown()


if __name__ == "__main__":
    main()
