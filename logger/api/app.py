"""The recorder's local interface, version 1; reading the rig is not to be had from here."""

from typing import Annotated, Any

from fastapi import FastAPI, Query, Response, WebSocket
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from logger.api.faults import answer_errors
from logger.api.feed import SNAPSHOT_SAMPLES, Feed
from logger.api.live import serve_viewer
from logger.api.page import page_of, with_live_link
from logger.api.ports import ArchivePort, DeskPort, ViewPort
from logger.domain.joint_query import JointOrder, JointQuery
from logger.wire.desk import (
    AmbientAnswer,
    AmbientCommand,
    BeadCommand,
    ChecklistMessage,
    ClampsOpenedCommand,
    DragCommand,
    MarkCommand,
    PlateReadingCommand,
    PreparationCommand,
    RemarkCommand,
    Said,
    SignOffCommand,
    StartBody,
    VisualCommand,
)
from logger.wire.entry import ChoicesMessage, JointEntry, PlanAnswer
from logger.wire.history import CurveMessage, HeadMessage, JointDetail, JointList
from logger.wire.live import AbortCommand, Accepted, ClaimCommand, Refused, StateMessage
from logger.wire.stream import HelloMessage, SamplesMessage

Seq = Annotated[int, Query(ge=0)]
TITLE = "Beadwatch recorder"
_REFUSED: dict[int | str, dict[str, Any]] = {409: {"model": Refused}, 422: {"model": Refused}}


class JointFilter(BaseModel):
    """Which joints are listed; empty means any. `verdict` is one of the curve's, or "open"."""

    project: str = ""
    operator: str = ""
    verdict: str = ""
    text: str = ""
    rig: str = ""
    material: str = ""
    outside_diameter_mm: float | None = None
    origin: str = ""
    procedure: str = ""
    finding: str = ""
    since: str = ""
    until: str = ""
    order: JointOrder = JointOrder.OPENED
    limit: int = Field(default=50, ge=1, le=500)
    offset: int = Field(default=0, ge=0)


class RecorderApi(FastAPI):
    """The application; its schema names the messages of the live link too."""

    def openapi(self) -> dict[str, Any]:
        return with_live_link(super().openapi())


def app_of(view: ViewPort, desk: DeskPort, archive: ArchivePort, version: str) -> FastAPI:
    """Build the application around a running recorder."""
    app = RecorderApi(title=TITLE, version=version, docs_url=None, redoc_url=None, responses=_REFUSED)
    answer_errors(app)
    _add_view(app, view)
    _add_work(app, desk)
    _add_statements(app, desk)
    _add_after(app, desk)
    _add_archive(app, archive)

    @app.get("/docs", include_in_schema=False)
    async def docs() -> HTMLResponse:
        return HTMLResponse(page_of(app.openapi()))

    return app


def _add_view(app: FastAPI, view: ViewPort) -> None:
    @app.get("/v1/hello")
    async def hello() -> HelloMessage:
        return view.hello()

    @app.get("/v1/state")
    async def state(since: Seq = 0) -> StateMessage:
        return view.state(since)

    @app.get("/v1/curve")
    async def curve(
        since_seq: Seq = 0, limit: Annotated[int, Query(ge=1, le=SNAPSHOT_SAMPLES)] = SNAPSHOT_SAMPLES
    ) -> SamplesMessage | None:
        return view.samples(since_seq, limit)

    @app.websocket("/v1/live")
    async def live(socket: WebSocket, joint: str = "", since: Seq = 0) -> None:
        await serve_viewer(socket, view, Feed(view, joint, since))


def _add_work(app: FastAPI, desk: DeskPort) -> None:
    @app.post("/v1/plan")
    async def plan(entry: JointEntry) -> PlanAnswer:
        return await desk.plan_answer(entry)

    @app.get("/v1/choices")
    async def choices() -> ChoicesMessage:
        return await desk.choices()

    @app.get("/v1/checklist")
    async def checklist() -> ChecklistMessage:
        return await desk.checklist()

    @app.post("/v1/joint/start")
    async def start(body: StartBody) -> Accepted:
        return await desk.start(body)

    @app.post("/v1/joint/abort")
    async def abort(command: AbortCommand) -> Accepted:
        return await desk.abort(command.reason)

    @app.post("/v1/joint/claim")
    async def claim(command: ClaimCommand) -> Accepted:
        return await desk.claim(command)


def _add_statements(app: FastAPI, desk: DeskPort) -> None:
    @app.post("/v1/joint/drag")
    async def drag(command: DragCommand) -> Accepted:
        return await desk.drag(command)

    @app.post("/v1/joint/bead")
    async def bead(command: BeadCommand) -> Accepted:
        return await desk.bead(command)

    @app.post("/v1/joint/preparation")
    async def preparation(command: PreparationCommand) -> Said:
        return await desk.preparation(command)

    @app.post("/v1/joint/ambient")
    async def ambient(command: AmbientCommand) -> AmbientAnswer:
        return await desk.ambient(command)

    @app.post("/v1/joint/plate-reading")
    async def plate_reading(command: PlateReadingCommand) -> Said:
        return await desk.plate_reading(command)

    @app.post("/v1/joint/mark")
    async def mark(command: MarkCommand) -> Said:
        return await desk.mark(command)

    @app.post("/v1/joint/clamps-opened")
    async def clamps_opened(command: ClampsOpenedCommand) -> Said:
        return await desk.clamps_opened(command)


def _add_after(app: FastAPI, desk: DeskPort) -> None:
    @app.post("/v1/joints/{joint_uuid}/visual")
    async def visual(joint_uuid: str, command: VisualCommand) -> Said:
        return await desk.visual(joint_uuid, command)

    @app.post("/v1/joints/{joint_uuid}/remark")
    async def remark(joint_uuid: str, command: RemarkCommand) -> Said:
        return await desk.remark(joint_uuid, command)

    @app.post("/v1/joints/{joint_uuid}/sign-off")
    async def sign_off(joint_uuid: str, command: SignOffCommand) -> Said:
        return await desk.sign_off(joint_uuid, command)


def _add_archive(app: FastAPI, archive: ArchivePort) -> None:
    @app.get("/v1/joints")
    async def joints(query: Annotated[JointFilter, Query()]) -> JointList:
        return await archive.joints(JointQuery(**query.model_dump()))

    @app.get("/v1/joints/{joint_uuid}")
    async def joint(joint_uuid: str) -> JointDetail:
        return await archive.joint(joint_uuid)

    @app.get("/v1/joints/{joint_uuid}/curve")
    async def curve(
        joint_uuid: str, points: Annotated[int | None, Query(ge=10, le=100_000)] = None
    ) -> CurveMessage:
        return await archive.curve(joint_uuid, points)

    @app.get("/v1/joints/{joint_uuid}/sealed")
    async def sealed(joint_uuid: str) -> Response:
        return Response(await archive.sealed(joint_uuid), media_type="application/json")

    @app.get("/v1/head")
    async def head() -> HeadMessage:
        return await archive.head()

    @app.get("/v1/joints/{joint_uuid}/judgement")
    async def judgement(joint_uuid: str) -> Response:
        return Response(await archive.judgement(joint_uuid), media_type="application/json")
