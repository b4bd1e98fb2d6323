"""Lines: the same for the same joint, unique in their series, read back by a parser of the protocol."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.domain.sample import Sample
from logger.forward.lines import Series, joint_points, line_of, sample_point, series_of
from tests.unit.store.record_values import JUDGEMENT
from tests.unit.wire.documents import PLAN

SERIES = Series(rig="Heron 160, old", joint="j=1", epoch_ms=1_000_000)
_UNESCAPED = r"(?<!\\)"


def sample_line(series, sample):
    return line_of(series.tags, sample_point(series, sample))


def parsed(line):
    """Measurement, tags, fields and time of one line, by the rules of the protocol."""
    head, fields, at = re.split(_UNESCAPED + r"(?:\\\\)* (?=(?:[^\"]|\"(?:\\.|[^\"\\])*\")*$)", line)
    measurement, *tags = re.split(_UNESCAPED + ",", head)
    pairs = dict(re.split(_UNESCAPED + "=", tag, maxsplit=1) for tag in tags)
    named = dict(part.split("=", 1) for part in re.split(r",(?=(?:[^\"]|\"(?:\\.|[^\"\\])*\")*$)", fields))
    return measurement, pairs, named, int(at)


def test_a_sample_gives_one_line_on_the_grid_of_milliseconds():
    line = sample_line(SERIES, Sample(t_s=1.25, pressure_bar=18.4, plate_in=True))
    measurement, tags, fields, at_ms = parsed(line)
    assert measurement == "beadwatch_sample"
    assert tags == {"rig": r"Heron\ 160\,\ old", "joint": r"j\=1"}
    assert fields == {"pressure_bar": "18.4", "plate_in": "1.0"}
    assert at_ms == 1_001_250


def test_what_was_not_read_is_not_sent():
    assert sample_point(SERIES, Sample(t_s=1.0)) is None


@given(st.lists(st.integers(0, 10**7), unique=True, max_size=50))
def test_samples_at_different_milliseconds_never_meet(times_ms):
    lines = [sample_line(SERIES, Sample(t_s=ms / 1000, pressure_bar=1.0)) for ms in times_ms]
    assert len({parsed(line)[3] for line in lines}) == len(times_ms)


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20))
def test_any_name_of_a_rig_stays_one_tag(name):
    line = sample_line(Series(rig=name, joint="j", epoch_ms=0), Sample(t_s=0.0, pressure_bar=1.0))
    assert "\n" not in line
    assert line.endswith(" pressure_bar=1.0 0")


def test_findings_at_one_time_take_the_next_millisecond(dossier_record):
    finding = replace(JUDGEMENT.findings[0], start_s=5.0)
    judgement = replace(JUDGEMENT, findings=(finding, finding))
    series = series_of(dossier_record, "rig")
    lines = [
        parsed(line_of(series.tags, point))
        for point in joint_points(series, dossier_record, judgement, "head")
    ]
    found = [(tags["code"], at) for name, tags, _, at in lines if name == "beadwatch_finding"]
    assert len(set(found)) == 2
    name, _, fields, _ = lines[-1]
    assert name == "beadwatch_joint"
    assert fields["chain_head"] == '"head"'
    assert fields["verdict"] == '"nonconforming"'
    assert fields["verdict_number"] == "1.0"


def test_a_phase_carries_what_the_plan_asks_of_it(dossier_record):
    series = series_of(dossier_record, "rig")
    judgement = replace(JUDGEMENT, plan=PLAN)
    points = {
        point.tag[1]: point.fields
        for point in joint_points(series, dossier_record, judgement, "head")
        if point.tag and point.tag[0] == "phase"
    }
    first_steps = [step for step in PLAN.steps if step.step in (None, 1)]
    assert {step.phase for step in first_steps} == set(points)
    for step in first_steps:
        fields = points[step.phase]
        assert fields["plan_gauge_min_bar"] == step.gauge_pressure_bar.min
        assert fields["plan_gauge_max_bar"] == step.gauge_pressure_bar.max
        assert fields.get("plan_min_s") == step.duration_s.min
        assert "plan_max_s" not in fields


@pytest.fixture
def dossier_record(trace_of_scenario, demo_joint_file):
    from tests.unit.export.dossiers import dossier_of_trace

    return dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file).record
