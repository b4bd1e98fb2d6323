"""What stands out over the joints of a project: numbers that are missing, curves that are too much alike."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from logger.domain.judgement import Judgement

_COUNTED = re.compile(r"(.*?)(\d+)(\D*)")
ALIKE_S = 0.1
"""Durations of two joints that agree to this in every phase are alike: a choice, no source."""
LONGEST_GAP = 1000
"""A jump in the numbers by more is another series, not joints that are missing."""
NO_DIP_K = 0.3
"""A plate that cools by less at contact shows no dip: a choice, common practice, no source."""


def missing_numbers(numbers: Iterable[str]) -> list[str]:
    """Return the numbers left out between the first and last of each series: K-117, K-119 misses K-118."""
    series: dict[tuple[str, str], dict[int, int]] = defaultdict(dict)
    for number in numbers:
        found = _COUNTED.fullmatch(number)
        if found:
            series[found[1], found[3]][int(found[2])] = len(found[2])
    missing = []
    for (before, after), counted in sorted(series.items()):
        known = sorted(counted)
        for low, high in pairwise(known):
            if high - low <= LONGEST_GAP:
                missing += [f"{before}{k:0{counted[low]}d}{after}" for k in range(low + 1, high)]
    return missing


def alike(judgements: Mapping[str, Judgement]) -> list[tuple[str, ...]]:
    """Return groups of joints whose phases last equally long, all of them: one curve recorded twice?"""
    groups: dict[tuple[int, ...], list[str]] = defaultdict(list)
    for joint, judgement in judgements.items():
        lasts = [span.duration_s for span in judgement.phases]
        known = [value for value in lasts if value is not None]
        if len(known) == len(lasts):
            groups[tuple(round(value / ALIKE_S) for value in known)].append(joint)
    return [tuple(joints) for joints in groups.values() if len(joints) > 1]


def without_dip(judgements: Mapping[str, Judgement]) -> Sequence[str]:
    """Return the joints whose plate did not cool at contact; on small pipe it may not show."""
    found = []
    for joint, judgement in judgements.items():
        plate = judgement.measures.plate if judgement.measures else None
        if plate is None or plate.at_contact_degC is None or plate.least_degC is None:
            continue
        if plate.at_contact_degC - plate.least_degC < NO_DIP_K:
            found.append(joint)
    return found
