"""What one server takes: ready-made batches of forty rigs, sent by four connections at once."""

import gzip
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import perf_counter, process_time

import httpx

from logger.daemon.forward_source import LineSource
from logger.forward.lines import SAMPLE
from logger.forward.outbox import Position
from tests.bench.forward_drain import planned_record
from tests.bench.timing import yardstick_s
from tests.system.forward.servers import free_port, victoria_metrics

PATH = "/api/v2/write?org=o&bucket=b&precision=ms"
RIGS, CONNECTIONS, BATCH_LINES = 40, 4, 5_000


def taken(folder: Path) -> Iterator[str]:
    """One joint of a quarter of an hour for each rig, batches in turn as from rigs that weld at once."""
    store = folder / "record.db"
    planned_record(store, 1)
    lines = [line.text for line in LineSource(store).after(Position())[0] if line.text.startswith(SAMPLE)]
    fields = sum(line.rsplit(" ", 2)[1].count(",") + 1 for line in lines)
    texts = ["\n".join(lines[first : first + BATCH_LINES]) for first in range(0, len(lines), BATCH_LINES)]
    bodies = [
        gzip.compress(text.replace("joint=0000", f"joint={rig:04d}").encode())
        for text in texts
        for rig in range(RIGS)
    ]
    with (
        victoria_metrics(folder / "server", free_port()) as url,
        httpx.Client(base_url=url, timeout=60.0, trust_env=False) as client,
    ):

        def send(body: bytes) -> None:
            headers = {"Content-Encoding": "gzip"}
            client.post(PATH, content=body, headers=headers).raise_for_status()

        begin, worked = perf_counter(), process_time()
        with ThreadPoolExecutor(CONNECTIONS) as pool:
            list(pool.map(send, bodies))
        took_s, worked_s = perf_counter() - begin, process_time() - worked
    sent = RIGS * len(lines)
    yield (
        f"{sent} lines of {RIGS} rigs, {fields / len(lines):.1f} points each, in {took_s:.1f} s: "
        f"{sent / took_s:.0f} lines/s, {RIGS * fields / took_s:.0f} points/s, "
        f"{sent / took_s * yardstick_s():.0f} lines in a yardstick; the senders worked {worked_s:.1f} s"
    )
