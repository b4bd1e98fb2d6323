"""What is tried when a rig is commissioned, and what came of it. Values and pure functions, no rig.

Limits here are choices, marked so on the sheet: nobody publishes them.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from statistics import fmean, median

from logger.domain.gap import longest_interval_s
from logger.domain.report import ReportTable
from logger.domain.sheet import SheetRow

GAP = "gap"
"""Of an interruption without readings."""
LEAST_SHUT_IN_BAR = 5.0
AREA_SHARE = 0.01
"""Greatest difference between the machine's plate and the rig file."""


class Trial(StrEnum):
    """What is tried, in the order of a commissioning."""

    AREA = "area"
    DRAG = "drag"
    LAG = "lag"
    LEAK_DOWN = "leak-down"
    PLATE = "plate"
    WIRE = "wire"
    UNPLUG = "unplug"
    POWER_DIP = "power-dip"


class Outcome(StrEnum):
    PASSED = "passed"
    FAILED = "failed"
    MEASURED = "measured"
    """A figure for the record: no limit is set for it."""
    NOT_DONE = "not done"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialResult:
    """One trial; `subject` is the channel or bus, `figures` carry their unit in the name.

    `note` is what a person said or the program saw, in words.
    """

    trial: Trial
    outcome: Outcome
    subject: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CommissioningSheet:
    """One page, worded already; `signatures` are the lines to be signed by hand."""

    title: str
    subtitle: str
    facts: tuple[SheetRow, ...]
    results: ReportTable
    cautions: tuple[str, ...]
    signatures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One reading's time, and why it was not used, "" where it was."""

    t_s: float
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interruption:
    """No usable reading from the last good one, or the watch's first, on; `to_s` is None without a return.

    `reason` is how the readings in between were marked, or "gap" where there were none.
    """

    from_s: float
    to_s: float | None
    reason: str


def interruptions(seen: Sequence[Seen], rate_hz: float, until_s: float) -> Iterator[Interruption]:
    """Yield what interrupted a channel, from its first reading until the end of the watch."""
    limit_s = longest_interval_s(1.0 / rate_hz)
    last_s: float | None = None
    reason = ""
    for one in seen:
        if one.reason:
            reason = reason or one.reason
            last_s = one.t_s if last_s is None else last_s
            continue
        if last_s is not None and (reason or one.t_s - last_s > limit_s):
            yield Interruption(from_s=last_s, to_s=one.t_s, reason=reason or GAP)
        last_s, reason = one.t_s, ""
    if last_s is not None and (reason or until_s - last_s > limit_s):
        yield Interruption(from_s=last_s, to_s=None, reason=reason or GAP)


def area_result(nameplate_mm2: float, rig_mm2: float) -> TrialResult:
    """Hold the area on the machine's plate against that of the rig file."""
    is_same = abs(nameplate_mm2 - rig_mm2) <= AREA_SHARE * nameplate_mm2
    return TrialResult(
        trial=Trial.AREA,
        outcome=Outcome.PASSED if is_same else Outcome.FAILED,
        figures={"nameplate_mm2": nameplate_mm2, "rig_file_mm2": rig_mm2},
    )


def leak_down_result(
    t_s: Sequence[float], bars: Sequence[float], before_bar_per_min: float | None
) -> TrialResult:
    """Measure how a shut-in pressure falls, in bar a minute, from the medians of its first and last fifth."""
    fifth = len(bars) // 5
    if fifth < 2:
        return TrialResult(trial=Trial.LEAK_DOWN, outcome=Outcome.FAILED, note="too few readings")
    first, last = slice(0, fifth), slice(-fifth, None)
    if median(bars[first]) < LEAST_SHUT_IN_BAR:
        note = f"no pressure was shut in: {median(bars[first]):.3g} bar"
        return TrialResult(trial=Trial.LEAK_DOWN, outcome=Outcome.FAILED, note=note)
    if median(bars[last]) - median(bars[first]) > LEAST_SHUT_IN_BAR:
        note = (
            f"the pressure rose from {median(bars[first]):.3g} to {median(bars[last]):.3g} bar: not shut in"
        )
        return TrialResult(trial=Trial.LEAK_DOWN, outcome=Outcome.FAILED, note=note)
    minutes = (fmean(t_s[last]) - fmean(t_s[first])) / 60
    figures = {
        "begin_bar": median(bars[first]),
        "end_bar": median(bars[last]),
        "bar_per_min": (median(bars[first]) - median(bars[last])) / minutes,
    }
    if before_bar_per_min is not None:
        figures["before_fitting_bar_per_min"] = before_bar_per_min
    return TrialResult(trial=Trial.LEAK_DOWN, outcome=Outcome.MEASURED, figures=figures)


def plate_result(face: str, readings_degC: Sequence[float], built_in_degC: float, note: str) -> TrialResult:
    """Hold the readings over one face of the plate against its built-in sensor."""
    return TrialResult(
        trial=Trial.PLATE,
        outcome=Outcome.MEASURED,
        subject=f"face {face}",
        figures={
            "mean_degC": fmean(readings_degC),
            "least_degC": min(readings_degC),
            "greatest_degC": max(readings_degC),
            "points": len(readings_degC),
            "built_in_degC": built_in_degC,
            "offset_degC": fmean(readings_degC) - built_in_degC,
            "spread_degC": max(readings_degC) - min(readings_degC),
        },
        note=note,
    )


def rig_fingerprint(rig_json: str) -> str:
    """Return the first 16 bytes of the SHA-256 over the rig's canonical form, in hexadecimal.

    What was measured at the commissioning itself is left out: writing it down makes no other rig.
    """
    text = rig_json
    with suppress(
        ValueError
    ):  # A record from elsewhere may hold another form: then it is taken as it stands.
        form = json.loads(rig_json)
        if isinstance(form, dict) and isinstance(form.get("rig"), dict):
            for measured in ("commissioned_lag", "plate_surface"):
                form["rig"].pop(measured, None)
            text = json.dumps(form, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]
