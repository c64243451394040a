"""Spoiled case files end in a case or in a message that names the file; `benchmarks/fuzz_cases.py` tries many more."""

import pytest
from heaters import SMALL, edited_text
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.case import dump, load, loads
from annulus.errors import AnnulusError, InputError
from annulus.section import lay_out

LINES = SMALL.strip().split("\n")
VALUES = st.one_of(
    st.sampled_from(
        ["nan", "inf", "true", "[]", "{}", '""', '"1 furlong"', '"-5 mm"', '"1e308 m"', '"5e-324 mm"', "10000000000"]
    ),
    st.text(max_size=12).map(lambda text: f'"{text}"'),
    st.floats(allow_nan=False).map(lambda number: f'"{number!r} mm"'),
)


def read(path, content: bytes):
    """A case, or the message of its refusal."""
    path.write_bytes(content)
    try:
        case = load(path)
    except InputError as refusal:
        assert all(line.startswith(str(path)) for line in str(refusal).split("\n"))
        return str(refusal)
    return case


@settings(max_examples=150)
@given(number=st.integers(0, len(LINES) - 1), value=VALUES)
def test_a_spoiled_value_is_read_or_refused(tmp_path_factory, number, value):
    lines = list(LINES)
    key, sign, _ = lines[number].partition(" = ")
    lines[number] = f"{key} = {value}" if sign else value
    found = read(tmp_path_factory.getbasetemp() / "spoiled.toml", "\n".join(lines).encode("utf-8", "surrogatepass"))
    if isinstance(found, str):
        return
    assert loads(dump(found)) == found
    try:
        lay_out(found)
    except AnnulusError as refusal:
        assert len(str(refusal)) > 20


@settings(max_examples=100)
@given(noise=st.binary(max_size=60), place=st.integers(0, len(SMALL)), cut=st.booleans())
def test_noise_and_cut_files_are_read_or_refused(tmp_path_factory, noise, place, cut):
    content = SMALL.encode()
    content = content[:place] + noise + (b"" if cut else content[place:])
    read(tmp_path_factory.getbasetemp() / "noise.toml", content)


def test_a_mark_of_byte_order_and_other_line_ends_are_let_pass(tmp_path):
    for n, content in enumerate(
        (b"\xef\xbb\xbf" + edited_text().encode(), edited_text().replace("\n", "\r\n").encode())
    ):
        (tmp_path / f"{n}.toml").write_bytes(content)
        assert load(tmp_path / f"{n}.toml") == loads(edited_text())


def test_another_encoding_is_told_with_its_line(tmp_path):
    assert "(invalid continuation byte, line 2, byte" in read(tmp_path / "a.toml", b'\ntitle = "\xd6fen"\n')


# What fuzzing found, each once a traceback, a wait without end or a message of pages.
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"a = " + b"[" * 20_000, "nested too deep"),
        (b"a = " + b"9" * 10_000, "not valid TOML"),
        (
            edited_text(('temperature = "18 degC"', 'temperature = "18 degC"\naltitude = "-1e308 m"')).encode(),
            "altitude",
        ),
        (edited_text(('bare_above = "0.3 m"', 'bare_above = "300 km"')).encode(), "bare_above"),
        (edited_text(('bare_above = "0.3 m"', 'bare_above = "300000 m"')).encode(), "must not be more than 100 m"),
        (edited_text(("turns = 4", "turns = 1000000000")).encode(), "must be 1000 or less"),
        (edited_text(('wall = "2 mm"', 'wall = "2e-6 mm"')).encode(), "less than 0.001 mm"),
        (
            edited_text(("turns = 4", "turns = 30"), ('pitch = "30 mm"', 'pitch = "4 m"')).encode(),
            "makes a coil 120 m high",
        ),
        (edited_text(('clearance = "8 mm"', 'clearance = "80 m"')).encode(), "must not be more than 5000 mm"),
        (edited_text(('gas_flow = "9.8 g/s"', 'gas_flow = "1e200 g/s"')).encode(), "which no heater has"),
        (edited_text(('wall = "2 mm"', 'wall = "1e-300 mm"')).encode(), "which no heater has"),
    ],
)
def test_what_fuzzing_found_is_refused_in_words(tmp_path, content, words):
    assert words in read(tmp_path / "found.toml", content)


@pytest.mark.parametrize("key", ["gas_flow = ", "material = ", "tube = "])
def test_a_message_does_not_repeat_a_value_of_pages(tmp_path, key):
    lines = [f'{key}"{"x" * 5000}"' if line.startswith(key) else line for line in LINES]
    text = read(tmp_path / "long.toml", "\n".join(lines).encode())
    assert max(map(len, text.split("\n"))) < 1000 + len(str(tmp_path))
