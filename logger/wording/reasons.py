"""Why something could not be decided, in words."""

_ENDINGS = {
    "within_uncertainty": "the measured value lies too close to the limit for its uncertainty",
    "not_observed": "too few readings",
    "trace_ends": "the trace ends before the time was up",
    "gap_over_boundary": "a gap in the readings lies over it",
    "opening_not_visible": "the gauge does not show the opening; a carriage sensor would",
    "edge_not_clear": "the edge does not stand out from the noise",
    "no_let_down": "the pressure was never let down",
    "no_heating_cycle": "no heating cycle was seen",
    "contact_not_seen": "the contact with the plate was not seen",
}

_WHOLE = {
    "no_plan": "no joint file was given, so there is nothing to judge against",
    "no_heating_cycle": "no heating cycle was seen in this curve",
    "gauge_pressure_not_planned": "drag or piston area is missing, so no gauge pressure could be planned",
}


def reason_text(code: str) -> str:
    """Word a reason code such as `changeover.start.gap_over_boundary`."""
    if code in _WHOLE:
        return _WHOLE[code]
    what, _, ending = code.rpartition(".")
    return f"{what.replace('.', ' ').replace('_', ' ')}: {_ENDINGS.get(ending, ending.replace('_', ' '))}"
