"""The small size of the benchmark's fuzz: random answers, restarts, the forwarder killed; nothing is lost."""

import pytest

from tests.bench.forward_fuzz import Wanted, fuzzed

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


@pytest.mark.parametrize("tells_start", [True, False])
def test_nothing_is_missing_and_nothing_extra_after_random_answers_and_kills(tmp_path, tells_start):
    wanted = Wanted(batches=36, seed=7, tells_start=tells_start, samples=60, killed_after=(6, 12))
    result = fuzzed(tmp_path, wanted)
    assert result.batches >= 36
    assert result.kills > 0
    assert len(result.answers) > 4
    assert (result.missing, result.extra, result.different) == (0, 0, 0)
    assert (result.missing_after_resend, result.unsound) == (0, 0)
