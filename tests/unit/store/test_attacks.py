"""Both verifiers find every structural attack, some of them only with the fingerprints or the head."""

import pytest

from logger.store.verify import verify_record
from tests.unit.store.attacks import (
    ATTACKS,
    attacked,
    cut_the_tail_off,
    roll_back_and_go_on_with_the_key,
    sign_all_anew_with_another_key,
)
from tests.unit.store.sealed_records import SECOND, found_by_both, make_record

SEEDS = 12


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    folder = tmp_path_factory.mktemp("records")
    original, other = folder / "record.db", folder / "other.db"
    make_record(other, joint_count=2, sample_count=40, first=11)
    return original, other, make_record(original, joint_count=3, sample_count=650)


def test_the_record_itself_has_no_fault(records):
    original, _, published = records
    assert found_by_both(original, published) == ([], [])
    assert verify_record(original).is_good


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack.__name__)
def test_every_attack_is_found_by_both_verifiers(records, tmp_path, attack):
    original, other, published = records
    for seed in range(SEEDS):
        path = attacked(tmp_path, original, other, attack, seed)
        first, second = found_by_both(path, published)
        assert first, f"the store's verifier found nothing, seed {seed}"
        assert second, f"the second verifier found nothing, seed {seed}"


@pytest.mark.parametrize("attack", [cut_the_tail_off, roll_back_and_go_on_with_the_key])
def test_what_only_a_published_head_shows(records, tmp_path, attack):
    """Without the head these must pass, or a verifier that always complains would look good above."""
    original, other, published = records
    path = attacked(tmp_path, original, other, attack, 1)
    assert found_by_both(path, published, with_head=False) == ([], [])


def test_what_only_the_fingerprint_shows(records, tmp_path):
    original, other, published = records
    path = attacked(tmp_path, original, other, sign_all_anew_with_another_key, 1)
    assert verify_record(path).faults == []
    assert SECOND.verify([path])[0] == []
    assert all(fault.code == "link.key" for fault in verify_record(path, trusted=published.keys).faults)
