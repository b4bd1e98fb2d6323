"""Routes against a recorder that accepts everything: bodies in, messages out, errors with their fields."""

import re

import pytest

from logger.api.app import app_of
from logger.api.faults import FieldsError
from logger.errors import DeviceError, ProcedureRefusal, StoreError
from logger.wire.desk import REACTION_U_S
from logger.wire.live import FieldError, StateMessage
from logger.wire.stream import HelloMessage, SamplesMessage
from tests.unit.api.asgi import Client
from tests.unit.api.fake_recorder import UUID, FakeArchive, FakeDesk, FakeView


@pytest.fixture
def view():
    return FakeView()


@pytest.fixture
def desk():
    return FakeDesk()


@pytest.fixture
def archive():
    return FakeArchive()


@pytest.fixture
def client(view, desk, archive):
    return Client(app_of(view, desk, archive, "1.2.3"))


def test_hello_and_state_carry_their_schema(client):
    hello = HelloMessage.model_validate_json(client.get("/v1/hello").content, strict=True)
    assert (hello.schema_, hello.api, hello.rig) == ("beadwatch.hello/1", 1, "rig-7")
    assert client.get("/v1/state").json()["schema"] == "beadwatch.state/1"
    StateMessage.model_validate_json(client.get("/v1/state").content)


def test_state_brings_the_events_after_a_number(client, view):
    for code in ("one", "two", "three"):
        view.happen(code)
    found = client.get("/v1/state", params={"since": 1}).json()["events"]
    assert [event["code"] for event in found] == ["two", "three"]


def test_a_hole_is_healed_by_number(client, view):
    view.count = 50
    found = SamplesMessage.model_validate_json(client.get("/v1/curve", params={"since_seq": 45}).content)
    assert (found.first_seq, found.pressure_bar) == (46, (46.0, 47.0, 48.0, 49.0, 50.0))
    few = client.get("/v1/curve", params={"since_seq": 10, "limit": 2}).json()
    assert few["pressure_bar"] == [11.0, 12.0]
    view.joint_uuid = None
    assert client.get("/v1/curve").json() is None


MARK = {"boundary": "cooling", "at_s": 12.5, "how": "stop_watch", "by": "R. Okafor"}
COMMANDS = {
    "/v1/joint/drag": {"pressure": "12 bar", "by": "R. Okafor"},
    "/v1/joint/bead": {"by": "R. Okafor"},
    "/v1/joint/preparation": {"item": "gap", "answer": "done", "value": "0.2 mm", "by": "R. Okafor"},
    "/v1/joint/ambient": {"temperature": "18 degC", "instrument": "T-4", "by": "R. Okafor"},
    "/v1/joint/plate-reading": {
        "temperature": "221 degC", "instrument": "T-9", "face": "both", "by": "R. Okafor",
    },
    "/v1/joint/mark": MARK,
    "/v1/joint/clamps-opened": {"by": "R. Okafor"},
    f"/v1/joints/{UUID}/visual": {
        "bead_width_least": "9 mm", "bead_width_greatest": "10.5 mm", "misalignment": "0.4 mm",
        "notch": "not_to_the_surface", "look": "even", "is_accepted": True, "by": "R. Okafor",
    },
    f"/v1/joints/{UUID}/remark": {"text": "rain began", "by": "R. Okafor"},
    f"/v1/joints/{UUID}/sign-off": {"is_number_marked": True, "by": "R. Okafor"},
    "/v1/joint/abort": {"reason": "power cut"},
    "/v1/joint/claim": {"joint_uuid": UUID, "number": "A-2", "claimed_by": "R. Okafor", "reason": "late"},
    "/v1/joint/start": {"joint_toml": 'joint = "A-1"'},
    "/v1/plan": {"joint": "A-1", "pipe": {"sdr": "11"}},
}  # fmt: skip


@pytest.mark.parametrize("path", COMMANDS)
def test_a_command_reaches_the_desk_and_is_answered(client, desk, path):
    answer = client.post(path, json=COMMANDS[path])
    assert answer.status_code == 200, answer.text
    assert len(desk.heard) == 1


@pytest.mark.parametrize("path", COMMANDS)
def test_an_unknown_field_is_named_and_nothing_is_done(client, desk, path):
    answer = client.post(path, json={**COMMANDS[path], "colour": "red"})
    assert answer.status_code == 422
    assert any(field["field"].endswith("colour") for field in answer.json()["fields"])
    assert desk.heard == []


@pytest.mark.parametrize("path", [path for path in COMMANDS if path != "/v1/plan"])
def test_an_empty_body_is_refused(client, desk, path):
    answer = client.post(path, json={})
    assert answer.status_code == 422
    assert answer.json()["fields"]
    assert desk.heard == []


@pytest.mark.parametrize("by", ["", "x" * 101])
def test_a_statement_has_an_author(client, desk, by):
    assert client.post("/v1/joint/bead", json={"by": by}).status_code == 422
    assert desk.heard == []


def test_a_mark_without_an_uncertainty_carries_a_persons_reaction(client, desk):
    client.post("/v1/joint/mark", json=MARK)
    ((_, heard),) = desk.heard
    assert heard.u_s == REACTION_U_S
    assert client.post("/v1/joint/mark", json={**MARK, "u_s": 0}).status_code == 422


@pytest.mark.parametrize(
    ("error", "status", "kind", "code"),
    [
        (DeviceError("no joint is open"), 409, "DeviceError", ""),
        (StoreError("disk full"), 409, "StoreError", ""),
        (ProcedureRefusal("ambient.missing", {"procedure": "p"}), 422, "ProcedureRefusal", "ambient.missing"),
    ],
)
def test_what_the_desk_refuses_comes_back_in_words(client, desk, error, status, kind, code):
    desk.error = error
    answer = client.post("/v1/joint/bead", json={"by": "R. Okafor"})
    assert answer.status_code == status
    told = answer.json()
    assert (told["error"], told["code"]) == (kind, code)
    assert told["message"]


def test_a_wrong_field_comes_back_with_its_nearest_choices(client, desk):
    desk.error = FieldsError([FieldError(field="pipe.material", message="unknown", nearest=("PE100",))])
    told = client.post("/v1/joint/start", json={"entry": {}}).json()
    assert told["fields"] == [{"field": "pipe.material", "message": "unknown", "nearest": ["PE100"]}]
    assert told["message"] == "pipe.material: unknown"


def test_joints_are_asked_for_by_filters(client, archive):
    client.get(
        "/v1/joints", params={"project": "P", "verdict": "undecided", "text": "a", "limit": 5, "offset": 10}
    )
    (query,) = archive.queries
    assert (query.project, query.verdict, query.text, query.limit, query.offset) == (
        "P",
        "undecided",
        "a",
        5,
        10,
    )
    assert client.get("/v1/joints", params={"limit": 0}).status_code == 422


def test_a_joint_that_is_not_there_is_an_error_in_words(client):
    answer = client.get(f"/v1/joints/{UUID}")
    assert answer.status_code == 422
    assert "is not in the record" in answer.json()["message"]


def test_a_stored_judgement_comes_byte_for_byte(client):
    assert client.get(f"/v1/joints/{UUID}/judgement").content == b'{"schema":"beadwatch.judgement/1"}\n'


def test_the_record_is_read_only(client):
    for end in ("", f"/{UUID}", f"/{UUID}/curve", f"/{UUID}/judgement"):
        for method in ("POST", "PUT", "PATCH", "DELETE"):
            assert client.request(method, f"/v1/joints{end}").status_code == 405


def test_the_page_names_every_route_and_fetches_nothing(client):
    page = client.get("/docs").text
    schema = client.get("/openapi.json").json()
    assert schema["info"]["version"] == "1.2.3"
    for path in schema["paths"]:
        assert path in page
    assert "://" not in page
    assert "<script" not in page
    linked = set(re.findall(r'href="#(\w+)"', page))
    assert linked <= set(re.findall(r'id="(\w+)"', page))
    assert "UpdateMessage" in linked


def test_the_schema_describes_the_messages(client):
    models = client.get("/openapi.json").json()["components"]["schemas"]
    assert {"StateMessage", "PlanAnswer", "MarkCommand", "Refused", "SamplesMessage"} <= set(models)
    assert {"SnapshotMessage", "UpdateMessage"} <= set(models)
    assert "HTTPValidationError" not in models
