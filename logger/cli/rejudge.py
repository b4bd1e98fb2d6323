"""`beadwatch rejudge`: stored curves judged again, as they were or under other terms, side by side."""

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text, say
from logger.cli.hand import Hand, hand_of
from logger.cli.judge import show_judgement
from logger.cli.live import SocketOption
from logger.cli.places import default_store
from logger.cli.selection import (
    FindingOption,
    OperatorOption,
    ProjectOption,
    RigOption,
    VerdictOption,
    query_of,
    selected,
)
from logger.config.quantity import PRESSURE, parse_difference
from logger.config.rig_file import load_rig
from logger.daemon.joint_files import planned_under, setting_of
from logger.domain.judgement import Judgement
from logger.domain.record import JointRecord
from logger.domain.rig import Rig
from logger.domain.sample import Sample
from logger.domain.scale import samples_of
from logger.errors import BeadwatchError, InputError
from logger.session.advance import judged
from logger.session.state import Setting
from logger.store.reader import Reader
from logger.wire.afterwards import OpinionCommand
from logger.wire.judgement import to_json
from logger.wire.model import command_of
from logger.wording.side_by_side import Terms, comparison_text, terms_text


def rejudge(
    joints: Annotated[list[str] | None, typer.Argument(metavar="[JOINT]...", help="Numbers or ids.")] = None,
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    attempt: Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")] = None,
    procedure: Annotated[str, typer.Option(help="Under this procedure or edition instead.")] = "",
    pressure_offset: Annotated[str, typer.Option(help="Added to every pressure: '0.3 bar'.")] = "",
    rig_file: Annotated[
        Path | None,
        typer.Option(help="With the channels of this rig file: scaling as it should have been."),
    ] = None,
    plain: Annotated[bool, typer.Option("--plain", help="Compare plainly: no declared uncertainty.")] = False,
    project: ProjectOption = "",
    operator: OperatorOption = "",
    rig: RigOption = "",
    verdict: VerdictOption = "",
    finding: FindingOption = "",
    everything: Annotated[bool, typer.Option("--all", help="Every joint of the record.")] = False,
    save: Annotated[
        bool, typer.Option("--save", help="Keep the results as opinions beside the verdicts.")
    ] = False,
    by: Annotated[str, typer.Option(help="Whose opinion it is.")] = "",
    reason: Annotated[str, typer.Option(help="Why it was formed.")] = "",
    socket: SocketOption = None,
    json: Annotated[bool, typer.Option("--json", help="Print judgements as JSON, one in a line.")] = False,
) -> None:
    """Judge stored joints again from their raw samples; a stored verdict is never touched.

    One joint under its own terms prints the whole judgement and leaves with its exit code; anything else
    prints stored and new verdicts side by side.
    """
    if save and not (by and reason):
        raise InputError("an opinion has an author and a reason: give --by and --reason", key="--save")
    path = store or default_store()
    terms = Terms(procedure=procedure, pressure_offset_bar=_offset_bar(pressure_offset), plain=plain)
    if rig_file is not None:
        terms = replace(
            terms,
            channels=load_rig(rig_file).rig.channels,
            rig_file=rig_file.name,
            rig_sha256=hashlib.sha256(rig_file.read_bytes()).hexdigest(),
        )
    query = query_of(project=project, operator=operator, rig=rig, verdict=verdict, finding=finding)
    records = selected(path, joints or [], query, everything=everything, attempt=attempt)
    pairs = list(_judged_again(path, records, terms))
    if save:
        with hand_of(path, socket) as hand:
            _save(pairs, terms, hand, by=by, reason=reason)
    if len(pairs) == 1 and terms == Terms():
        _show_one(*pairs[0], json=json)
    if json:
        for _, judgement in pairs:
            out_text(to_json(judgement))
        return
    out([terms_text(terms), *(comparison_text(record, judgement) for record, judgement in pairs)])


def _offset_bar(text: str) -> float:
    try:
        return parse_difference(text, PRESSURE) if text else 0.0
    except ValueError as error:
        raise InputError(str(error), key="--pressure-offset") from error


def _judged_again(
    store: Path, records: list[JointRecord], terms: Terms
) -> Iterator[tuple[JointRecord, Judgement]]:
    """A joint that cannot be judged under these terms is named and left out."""
    for record in records:
        with Reader(store) as reader:
            raws = reader.samples(record.header.uuid)
            statements = reader.statements_of(record.header.uuid)
        try:
            setting = _under(setting_of(record, statements), record, terms)
        except BeadwatchError as error:
            if len(records) == 1:
                raise
            say(f"joint {record.number or record.header.uuid}: {error}")
            continue
        rig = setting.rig
        samples = [_corrected(sample, terms) for sample in samples_of(raws, rig)] if rig else []
        yield record, judged(setting, samples)


def _under(setting: Setting, record: JointRecord, terms: Terms) -> Setting:
    if terms.procedure:
        setting = replace(setting, plan=planned_under(record, setting.plan, setting.rig, terms.procedure))
    if terms.channels is not None and setting.rig is not None:
        setting = replace(setting, rig=replace(setting.rig, channels=terms.channels))
    if terms.plain and setting.rig is not None:
        setting = replace(setting, rig=_without_uncertainty(setting.rig))
    return setting


def _without_uncertainty(rig: Rig) -> Rig:
    channels = tuple(replace(channel, standard_uncertainty=None) for channel in rig.channels)
    return replace(rig, channels=channels)


def _corrected(sample: Sample, terms: Terms) -> Sample:
    if sample.pressure_bar is None or not terms.pressure_offset_bar:
        return sample
    return replace(sample, pressure_bar=sample.pressure_bar + terms.pressure_offset_bar)


def _show_one(record: JointRecord, judgement: Judgement, *, json: bool) -> None:
    if record.judgement_text is not None:
        same = to_json(judgement) == record.judgement_text
        say("same as the stored judgement, to the byte" if same else "NOT the same as the stored judgement")
    show_judgement(judgement, json)


def _save(
    pairs: list[tuple[JointRecord, Judgement]], terms: Terms, hand: Hand, *, by: str, reason: str
) -> None:
    for record, judgement in pairs:
        hand.opine(
            command_of(
                OpinionCommand, joint_uuid=record.header.uuid, terms=terms_text(terms), by=by, reason=reason,
                verdict=judgement.verdict, judgement_json=to_json(judgement),
            )
        )  # fmt: skip
