"""The dry fit: knobs make cases as files do, the server answers its own page only, what is saved is what was seen."""

from __future__ import annotations

import http.client
import json
import threading

import pytest
from browser import Browser, find_browser
from commands import TINY, contents
from heaters import NO_COIL, after, edited, edited_text

from annulus.case import dump, load, loads
from annulus.dryfit.knobs import knobs_of, turned
from annulus.dryfit.server import Server
from annulus.dryfit.trial import Bench, SupersededError
from annulus.errors import InputError
from annulus.heater import solve_with_errors

CASE = loads(TINY)


# -- knobs


def test_knobs_are_what_the_case_has_and_stand_where_it_has_them():
    knobs = {knob.key: knob for knob in knobs_of(CASE)}
    assert knobs["coil.turns"].value == 2
    assert knobs["coil.pitch"].value == pytest.approx(30.0)
    assert knobs["fire.gas_temperature"].value == pytest.approx(420.0)
    assert knobs["water.flow"].value == pytest.approx(3.0)
    assert knobs["filler.material"].value == "quartz sand, vibrated"
    assert "fire.wood_rate" not in knobs
    for knob in knobs.values():
        if not knob.choices:
            assert knob.low <= knob.value <= knob.high, knob.key
    assert not {key for key in (knob.key for knob in knobs_of(edited(*NO_COIL))) if key.startswith(("coil", "water"))}


def test_a_knob_that_is_not_turned_changes_nothing():
    assert turned(CASE, {}) == CASE


def test_a_turned_knob_is_the_case_with_that_key():
    case = turned(CASE, {"coil.pitch": 33, "water.flow": 2.5, "coil.turns": 3, "filler.material": "still air"})
    assert case.coil.pitch == pytest.approx(0.033) and case.coil.turns == 3 and len(case.coil.gap) == 3
    assert case.water.flow == pytest.approx(CASE.water.flow * 2.5 / 3, rel=1e-12)
    assert case.filler.material == "still air" and case.filler.packing is None
    assert loads(dump(case)) == case


def test_one_gap_replaces_gaps_by_turn():
    loose = edited(after('gap = "0.5 mm"', 'gap_at = { 2 = "3 mm" }'))
    assert set(turned(loose, {"coil.gap": 1.5}).coil.gap) == {0.0015}
    assert turned(loose, {"coil.turns": 6}).coil.turns == 6


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"coil.colour": 1}, "cannot be turned here"),
        ({"coil.pitch": "wide"}, "must be a number"),
        ({"coil.pitch": True}, "must be a number"),
        ({"coil.pitch": float("nan")}, "must be a number"),
        ({"coil.pitch": 9}, "pitch"),
        ({"filler.material": "gold dust"}, "must be one of"),
    ],
)
def test_a_knob_that_cannot_be_is_refused(values, words):
    with pytest.raises(InputError, match=words):
        turned(CASE, values)


# -- trials


def test_a_newer_trial_ends_the_one_under_way():
    bench = Bench(CASE)
    seen = []

    def tell(words):
        seen.append(words)
        bench._newest += 1

    first = bench._tell(bench._announce())
    tell("another one asks")
    with pytest.raises(SupersededError):
        first("round 1")
    assert seen


def test_a_refined_trial_is_what_steady_computes_digit_for_digit():
    case = turned(CASE, {"coil.gap": 0.8})
    bench = Bench(CASE)
    bench.quick(CASE)
    _, outcome = solve_with_errors(loads(dump(case)))
    assert bench.refined(case)["heat_to_water_W"] == outcome["heat_to_water_W"]


# -- the server


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A server under way, and the folder into which it saves."""
    folder = tmp_path_factory.mktemp("saved")
    with Server(Bench(CASE), folder) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield server, folder
        server.shutdown()
        thread.join()


def ask(server: Server, method: str, path: str, content=None, **headers) -> tuple[int, str, dict[str, str]]:
    """Status, text and headers of an answer; the request is the page's own unless headers say otherwise."""
    host = f"127.0.0.1:{server.server_port}"
    usual = {"Host": host}
    if method == "POST":
        usual |= {"Origin": f"http://{host}", "Content-Type": "application/json"}
    usual |= {name.replace("_", "-"): value for name, value in headers.items()}
    link = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=60)
    body = content if isinstance(content, str) or content is None else json.dumps(content)
    link.request(method, path, body, {name: value for name, value in usual.items() if value is not None})
    answer = link.getresponse()
    text = answer.read().decode()
    link.close()
    return answer.status, text, dict(answer.headers)


def test_server_listens_on_the_loopback_address_only(served):
    assert served[0].server_address[0] == "127.0.0.1"
    assert served[0].address.startswith("http://127.0.0.1:")


def test_page_is_served_with_a_policy_that_lets_it_ask_only_its_own_server(served):
    status, text, headers = ask(served[0], "GET", "/")
    assert status == 200 and "Dry fit" in text
    assert "connect-src 'self'" in headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert "Access-Control-Allow-Origin" not in headers
    assert ask(served[0], "GET", "/../../etc/hostname")[0] == 404


@pytest.mark.parametrize(
    ("method", "path", "headers"),
    [
        ("GET", "/", {"Host": "evil.example"}),  # a name that was made to point here
        ("GET", "/", {"Sec_Fetch_Site": "cross-site"}),
        ("POST", "/try", {"Origin": "http://evil.example"}),
        ("POST", "/try", {"Origin": None}),
        ("POST", "/try", {"Origin": "null"}),
        ("POST", "/save", {"Content_Type": "text/plain"}),  # what a foreign form may send unasked
        ("POST", "/save", {"Sec_Fetch_Site": "same-site"}),
        ("POST", "/save", {"Host": "evil.example:80"}),
    ],
)
def test_requests_from_elsewhere_are_refused(served, method, path, headers):
    content = {"values": {}, "name": "stolen.toml"} if method == "POST" else None
    status, text, _ = ask(served[0], method, path, content, **headers)
    assert status == 403
    assert "answers only to itself" in text
    assert contents(served[1]).count("stolen.toml") == 0


@pytest.mark.parametrize(
    ("path", "content", "words"),
    [
        ("/try", {"values": {"coil.pitch": 9}}, "pitch"),
        ("/try", {"values": [1]}, "must be an object"),
        ("/try", "{", "not JSON"),
        ("/try", "[1]", "must be an object"),
        ("/save", {"values": {}, "name": "../outside.toml"}, "plain file name"),
        ("/save", {"values": {}, "name": "/tmp/outside.toml"}, "plain file name"),
        ("/save", {"values": {}, "name": 3}, "plain file name"),
        ("/try", " " * 70_000, "no more than"),
    ],
)
def test_a_request_that_cannot_be_met_is_told_why(served, path, content, words):
    status, text, _ = ask(served[0], "POST", path, content)
    assert status == 422
    assert words in json.loads(text)["fault"]


def test_a_case_is_saved_whole_and_never_over_another_file(served):
    server, folder = served
    asked = {"values": {"coil.gap": 0.7}, "name": "first.toml"}
    status, text, _ = ask(server, "POST", "/save", asked)
    assert status == 200 and json.loads(text)["saved"].endswith("first.toml")
    assert load(folder / "first.toml") == turned(CASE, {"coil.gap": 0.7})
    status, text, _ = ask(server, "POST", "/save", {"values": {}, "name": "first.toml"})
    assert status == 422 and "exists already" in text
    assert load(folder / "first.toml").coil.gap[0] == pytest.approx(0.0007)


def test_boiling_is_told_and_not_drawn(served):
    status, text, _ = ask(served[0], "POST", "/try", {"values": {"water.inlet_temperature": 99.9}})
    assert status == 422 and "boil" in json.loads(text)["fault"]


@pytest.mark.parametrize(
    ("words", "fault"), [(("--port", "70000"), "must lie between"), (("--into", "case"), "must be a folder")]
)
def test_command_refuses_what_cannot_be(run, case_file, words, fault):
    words = tuple(str(case_file) if word == "case" else word for word in words)
    status, _, err = run("dry-fit", case_file, *words)
    assert status == 2 and fault in err


# -- in a browser

browser = find_browser()


@pytest.mark.skipif(browser is None, reason="no Chromium on this machine: apt-get install chromium")
def test_browser_turns_a_knob_sees_it_followed_and_saves_what_steady_reproduces(served, run, tmp_path):
    server, folder = served
    with Browser(browser) as page:
        page.open(server.address)
        page.wait(lambda: page.run("document.body.dataset.heat"))
        before = page.run("document.querySelector('#part').toDataURL()")
        heat = page.run("document.body.dataset.heat")
        page.run("document.querySelector('#knob-coil-gap').focus()")
        for _ in range(5):
            page.press("ArrowRight")
        page.wait(
            lambda: (
                page.run("document.body.dataset.refined") == "true" and page.run("document.body.dataset.wave") == "6"
            )
        )
        assert page.text("#knobs").count("1 mm") >= 1
        assert page.run("document.querySelector('#part').toDataURL()") != before
        seen = page.run("document.body.dataset.heat")
        assert float(seen) < float(heat)  # a wider gap of sand
        assert "±" in page.text("#lead") and "the water" in page.text("#ledger")
        page.run("document.querySelector('#name').value = 'seen.toml'")
        page.click("#keep button")
        page.wait(lambda: "saved" in page.text("#kept"))
        page.run("document.querySelector('#knob-coil-pitch').focus()")
        for _ in range(4):
            page.press("PageDown")  # to 12 mm: less than the tube
        page.wait(lambda: page.run("document.querySelector('#state').className") == "fault")
        assert "pitch" in page.text("#state")
        assert [words for words in page.console if "422" not in words] == []  # a refusal is told on the page
        asked = {address for address in page.requests if not address.startswith("data:")}
        assert asked == {server.address, *(f"{server.address}{path}" for path in ("try", "refine", "save"))}
    status, _, _ = run("steady", folder / "seen.toml", "--out", tmp_path / "steady")
    assert status == 0
    result = json.loads((tmp_path / "steady" / "result.json").read_text(encoding="utf-8"))
    assert result["heat_to_water_W"] == float(seen)


def test_text_of_a_case_is_only_text_on_the_page():
    odd = loads(edited_text(('title = "Small"', 'title = "</script><b>x"'), text=TINY))
    from annulus.dryfit.server import page

    assert "</script><b>" not in page(Bench(odd))
