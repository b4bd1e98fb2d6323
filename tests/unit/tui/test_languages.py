"""Findings, events, remarks and refusals in the operator's language; everywhere else they stay English."""

import ast

import pytest

from logger.domain.judgement import Verdict
from logger.errors import ProcedureRefusal
from logger.wire.judgement import to_json
from logger.wire.live import AlarmMessage, EventMessage
from logger.wording.events import event_text
from logger.wording.judgement_text import judgement_lines
from logger.wording.recorder_lines import told
from logger.wording.refusals import refusal_text
from tests.catalogue import LANGUAGES, ROOT
from tests.unit.tui.fake_link import snapshot, state
from tests.unit.tui.test_after import Afterwards
from tests.unit.wire.documents import JUDGEMENT
from tui import catalogue, words
from tui.model import Picture

EVENTS = {
    "phase.heat_soak": {"cause": "let_down", "before": "bead_up", "seen_at_s": 137.0},
    "phase.bead_up": {"cause": "pressed_again", "before": "heat_soak", "withdrawn": "yes"},
    "phase.none": {"cause": "released", "before": "cooling"},
    "phase.revised": {
        "phase": "cooling", "boundary": "cooling.start", "from_s": 203.5, "to_s": 204.0, "u_s": 0.1,
    },
    "drag.offered": {
        "pressure_bar": 8.0, "spread_bar": 0.2, "breakaway_bar": 9.1, "closing_stroke": "not seen",
    },
    "drag.withdrawn": {"pressure_bar": 8.0},
    "drag.confirmed": {"pressure_bar": 8.0, "by": "R. Okafor", "offered_bar": 8.06},
    "bead.confirmed": {"by": "R. Okafor"},
    "bead.not_confirmed": {},
    "joint.opened": {"joint": "A-1", "attempt": 2},
    "joint.resumed": {"joint": "A-1"},
    "joint.ended": {"joint": "", "how": "finished", "reason": "released", "verdict": "conforming"},
    "channel.lost": {"quantity": "pressure", "reason": "no answer"},
    "channel.still_lost": {"quantity": "pressure", "reason": "cannot open"},
    "record.damaged": {"error": "malformed", "aside": "record.db.damaged"},
    "joint.unreadable": {"joint": "A-1", "error": "damaged block"},
    "plate_surface.overdue": {"measured": "2030-10-01", "due": "2031-04-02"},
    "calibration.overdue": {"channel": "pressure", "due": "2031-04-01"},
}  # fmt: skip
REFUSING = (
    "daemon/desk", "daemon/sayings", "daemon/confirmations", "daemon/recorder", "daemon/joint_files",
    "config/quantity", "config/pipe_table", "config/dimensions", "config/joint_file",
)  # fmt: skip
"""Rooms whose refusals the monitor meets."""
RAISED = {"InputError", "DeviceError", "ValueError", "wrong", "_error", "error", "FieldError"}
FILLED = "some thing"
QUOTED = {"         invented for this test, clause 1", "  : é"}
"""Names of documents and what an unknown recorder says."""


@pytest.fixture(autouse=True)
def english():
    yield
    catalogue.use("en")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_event_is_said_in_the_language(language):
    english = {code: event_text(code, parameters) for code, parameters in EVENTS.items()}
    catalogue.use(language)
    for code, parameters in EVENTS.items():
        assert event_text(code, parameters) != english[code]


def test_an_event_in_german():
    catalogue.use("de")
    assert event_text("phase.heat_soak", EVENTS["phase.heat_soak"]) == "Anwärmen beginnt"
    assert event_text("phase.revised", EVENTS["phase.revised"]) == (
        "Beginn Abkühlen um +0,50 s auf 204,00 s ± 0,18 s verschoben"
    )


def test_what_the_recorder_has_no_code_for_is_said_as_it_words_it():
    event = EventMessage(seq=1, at_s=0.0, code="new.thing", text="some new thing")
    assert words.event_text(event) == "some new thing"
    told_state = state(alarms=(AlarmMessage(code="new.alarm", text="something else"),))
    picture = Picture()
    picture.take(snapshot(told_state, planned=False), 0.0)
    assert "! something else" in words.troubles(picture, 0.0)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_judgement_is_said_in_the_language_and_its_json_is_not(language):
    english, json = judgement_lines(JUDGEMENT), to_json(JUDGEMENT)
    catalogue.use(language)
    said = judgement_lines(JUDGEMENT)
    assert to_json(JUDGEMENT) == json
    assert set(english) & set(said) <= QUOTED


def test_a_refusal_of_a_procedure_in_german():
    parameters = {"procedure": "dvs", "variable": "wall", "value": 70.5, "limit": 50.0, "source": "table 2"}
    catalogue.use("de")
    text = refusal_text(ProcedureRefusal("scope.above", parameters))
    assert text == "dvs gilt für Wand bis 50 mm, hier 70,5 mm; table 2 [scope.above]"


def test_a_line_of_the_recorder_is_known_by_its_form():
    line = 'pressure: "8" has no unit; a pressure like "12 bar" is needed'
    assert told(line) == line
    catalogue.use("de")
    assert told(line) == 'pressure: "8" hat keine Einheit; ein Druck wie "12 bar" ist nötig'
    assert told("joint is open is still open") == "Naht is open ist noch offen"
    assert told("a line nobody wrote") == "a line nobody wrote"


def refusals() -> set[str]:
    """The texts that are raised in those rooms, with something in place of every value."""
    found = set()
    for room in REFUSING:
        tree = ast.parse((ROOT / "logger" / f"{room}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and _name(node.func) in RAISED:
                found |= {_text(part) for part in (*node.args, *(k.value for k in node.keywords))}
    return {text for text in found if " " in text and not text.startswith(("[", "%"))}


def _name(function: ast.expr) -> str:
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def _text(node: ast.expr) -> str:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(part.value if isinstance(part, ast.Constant) else FILLED for part in node.values)
    return ""


# Only on the command line, or in the log.
ELSEWHERE = {
    "bore, rod and cylinders belong together; add some thing",
    "a joint could not be opened or closed",
}


def test_every_refusal_that_the_monitor_meets_has_its_form():
    raised = refusals() - ELSEWHERE
    assert len(raised) > 40
    catalogue.use("de")
    assert sorted(text for text in raised if told(text) == text) == []


@pytest.mark.parametrize("language", LANGUAGES)
async def test_the_verdict_screen_has_no_english_left(language):
    catalogue.use(language)
    async with Afterwards(verdict=Verdict.NONCONFORMING, size=(120, 60)) as after:
        text = after.text
    words_of_ours = ("Changeover", "took too long", "Phases", "Findings", "verdict of", "limit ", "Decision")
    assert [word for word in words_of_ours if word in text] == []
