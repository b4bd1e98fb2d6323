"""`beadwatch judge`: a curve from a file against its plan."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text
from logger.cli.exit_codes import EXIT_OF_VERDICT
from logger.cli.plan import planned
from logger.config.rig_file import load_rig
from logger.config.trace_file import load_trace
from logger.domain.judgement import Judgement
from logger.judge.judge import judge as judge_curve
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
    show_judgement(judgement, json)


def show_judgement(judgement: Judgement, as_json: bool) -> None:
    """Print a judgement and leave with its exit code."""
    if as_json:
        out_text(to_json(judgement))
    else:
        out(judgement_lines(judgement))
    raise typer.Exit(EXIT_OF_VERDICT[judgement.verdict])
