"""`import annulus` is one page: it lists every public name, and costs nothing."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

import annulus

README = Path(__file__).parent.parent / "README.md"


@pytest.mark.parametrize("name", annulus.__all__)
def test_a_public_name_has_a_docstring_and_is_named_on_the_page(name):
    assert getattr(annulus, name).__doc__
    assert name in annulus.__doc__ or name.endswith("Error")


def test_an_unknown_name_is_an_attribute_error_that_tells_where_to_look():
    with pytest.raises(AttributeError, match="docstring lists them"):
        _ = annulus.flux_capacitor


def test_importing_the_page_loads_no_room():
    code = "import sys, annulus; sys.exit(any(m.startswith(('annulus.', 'numpy', 'numba')) for m in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_python_example_of_the_readme_runs_and_draws(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "agg")
    monkeypatch.setenv("PYTHONPATH", str(README.parent))  # for a package that is not installed
    (example,) = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.S)
    assert len(example.strip().splitlines()) <= 20
    done = subprocess.run([sys.executable, "-c", example], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "two-pipes.png").stat().st_size > 5000
