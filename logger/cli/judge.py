"""`beadwatch judge` and `rejudge`: a curve from a file, or from the record, against its plan."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text, say
from logger.cli.exit_codes import EXIT_OF_VERDICT
from logger.cli.places import default_store
from logger.cli.plan import planned
from logger.config.rig_file import load_rig
from logger.config.trace_file import load_trace
from logger.daemon.joint_files import setting_of
from logger.domain.judgement import Judgement
from logger.domain.scale import sample_of
from logger.judge.judge import judge as judge_curve
from logger.session.advance import judged
from logger.store.reader import Reader
from logger.wire.judgement import to_json
from logger.wording.judgement_text import judgement_lines


def judge(
    trace_file: Annotated[Path, typer.Argument(metavar="TRACE.csv", help="The recorded curve.")],
    joint_file: Annotated[
        Path | None, typer.Argument(metavar="[JOINT.toml]", help="The joint; without it, phases only.")
    ] = None,
    rig_file: Annotated[
        Path | None, typer.Option("--rig", metavar="RIG.toml", help="Area, gauge side, uncertainties.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the judgement as JSON.")] = False,
) -> None:
    """Judge a curve from anywhere; it counts as unsealed input."""
    result = planned(joint_file, rig_file) if joint_file else None
    rig = load_rig(rig_file).rig if rig_file else None
    judgement = judge_curve(
        load_trace(trace_file),
        joint=result.joint.joint if result else None,
        plan=result.plan if result else None,
        rig=rig,
    )
    _show(judgement, json)


def rejudge(
    joint: Annotated[str, typer.Argument(help="Joint number or id.")],
    store: Annotated[Path | None, typer.Option(help="The record.")] = None,
    attempt: Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the judgement as JSON.")] = False,
) -> None:
    """Judge a stored joint again from its raw samples; the stored verdict stays as it is."""
    with Reader(store or default_store()) as reader:
        record = reader.joint(joint, attempt=attempt)
        raws = reader.samples(record.header.uuid)
        setting = setting_of(record, reader.statements_of(record.header.uuid))
    rig = setting.rig
    judgement = judged(setting, [sample_of(raw, rig) for raw in raws] if rig else [])
    if record.judgement_text is not None:
        same = to_json(judgement) == record.judgement_text
        say("same as the stored judgement, to the byte" if same else "NOT the same as the stored judgement")
    _show(judgement, json)


def _show(judgement: Judgement, as_json: bool) -> None:
    if as_json:
        out_text(to_json(judgement))
    else:
        out(judgement_lines(judgement))
    raise typer.Exit(EXIT_OF_VERDICT[judgement.verdict])
