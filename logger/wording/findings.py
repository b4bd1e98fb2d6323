"""Texts of findings: the code in words, measured against limit."""

from logger.domain.judgement import Finding
from logger.domain.phase import Phase
from logger.wording.language import capitalized, figure, say
from logger.wording.reasons import weighed_text

SUBJECTS: dict[str, str] = {
    Phase.BEAD_UP: "bead-up",
    Phase.HEAT_SOAK: "heat soak",
    Phase.CHANGEOVER: "changeover",
    Phase.PRESSURE_BUILD_UP: "pressure build-up",
    Phase.COOLING: "cooling",
    "plate": "plate",
    "drag": "drag",
}
DIRECTIONS: dict[tuple[str, str], str] = {
    ("duration", "long"): "took too long",
    ("duration", "short"): "was too short",
    ("pressure", "high"): "pressure too high",
    ("pressure", "low"): "pressure too low",
    ("temperature", "high"): "temperature too high",
    ("temperature", "low"): "temperature too low",
    ("heat_through", "short"): "not in its band for long enough since it was switched on (heat-through)",
    ("drag", "high"): "drag seen well above the confirmed one",
    ("drag", "low"): "drag seen well below the confirmed one",
    ("drag", "uneven"): "stroke before contact too uneven to read drag from",
    ("travel", "none"): "pressure without travel: the ends did not give way",
    ("travel", "short"): "carriage no closer than with the plate between the ends",
    ("contact", "lost"): "faces parted",
    ("contact", "repeated"): "faces closed a second time",
    ("restart", "unfaced"): "heated again after melt contact without facing",
}


def finding_text(finding: Finding) -> str:
    """Return one line for any code `<subject>.<quantity>.<direction>`; unknown parts stay as they are."""
    what = _what(finding.code)
    if finding.measured is None:
        return f"{what}; {finding.clause}" if finding.clause else what
    unit = finding.unit
    figures = f"{figure(finding.measured, '.6g')} {unit}".rstrip()
    if finding.limit is not None:
        # To the digits of what was measured.
        limit = round(finding.limit, 3)
        figures += say(", limit {limit:.6g} {unit}", limit=limit, unit=unit).rstrip()
    if finding.standard_uncertainty and finding.conformance_probability is not None:
        weighed = weighed_text(
            finding.standard_uncertainty, finding.conformance_probability, finding.coverage_factor
        )
        figures += f" ({weighed})"
    return f"{what}: {figures}; {finding.clause}" if finding.clause else f"{what}: {figures}"


def _what(code: str) -> str:
    subject, _, rest = code.partition(".")
    quantity, _, direction = rest.partition(".")
    words = DIRECTIONS.get((quantity, direction)) or f"{quantity} {direction}".replace("_", " ").strip()
    return f"{capitalized(say(SUBJECTS.get(subject, subject.replace('_', ' '))))} {say(words)}".strip()
