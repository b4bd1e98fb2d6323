"""A working day of joints to a real server: all read back, nothing twice; the month is the benchmark's."""

import pytest

from logger.forward.outbox import outbox_path, statuses_of
from logger.store.outgoing import samples_from
from tests.bench.forward_drain import forwarded, planned_record, read_back
from tests.system.forward.servers import free_port, victoria_metrics

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]
JOINTS = 10


@pytest.mark.needs("victoria-metrics", "victoria-metrics")
def test_a_day_offline_is_on_the_server_point_by_point_and_once(tmp_path):
    store = tmp_path / "record.db"
    planned_record(store, JOINTS, curves=1)
    waiting = samples_from(store, 0)
    assert waiting > JOINTS * 8_800
    with victoria_metrics(tmp_path / "server", free_port()) as url:
        list(forwarded(tmp_path, store, url))
        total, _ = read_back(store, url, JOINTS)
    assert total.expected > 4 * waiting
    assert (total.missing, total.extra, total.different) == (0, 0, 0)
    (status,) = statuses_of(outbox_path(store))
    assert (status.backlog, status.parked) == (0, 0)
    assert samples_from(store, JOINTS + 1) == 0
