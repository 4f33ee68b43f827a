"""What a third party does with the client that was generated from the contract: sends an envelope and follows the feed."""

import json
import os
import sys
import uuid
from datetime import datetime, timedelta, timezone

from lapwatch_client.api.configuration import list_units
from lapwatch_client.api.custody import get_held_item, send_envelope
from lapwatch_client.api.feed import list_changes
from lapwatch_client.api.records import list_service_events
from lapwatch_client.client import AuthenticatedClient
from lapwatch_client.models import Changes, EnvelopeResults, ProblemBody


def follow(client, after, enough):
    """Everything behind a place, until it is enough; and the place where that ends."""
    heard = []
    while not enough(heard):
        page = list_changes.sync(client=client, after=after, limit=2, wait_seconds=20)
        assert isinstance(page, Changes), page
        heard += page.items
        after = page.through
        assert page.items or not page.more, "nothing came in 20 seconds"
    return heard, after


def stream(client, after):
    """The same as server-sent events, which generated clients do not know: their data alone."""
    parameters = {"after": after, "for_seconds": 0}
    with client.get_httpx_client().stream("GET", "/v1/changes/stream", params=parameters) as reply:
        assert reply.headers["content-type"] == "text/event-stream", reply.headers
        return [json.loads(line[6:]) for line in reply.iter_lines() if line.startswith("data: ")]


def day(client):
    unit = list_units.sync(client=client).items[0].id
    before = list_changes.sync(client=client, after="now")
    assert isinstance(before, Changes), before

    performed_at = (datetime.now(timezone.utc) - timedelta(days=365)).isoformat()
    event = {"schema": "service_event/1", "id": str(uuid.uuid4()), "unit_id": str(unit), "kind": "inspection",
             "performed_at": performed_at, "affects_heat": False}
    nonsense = {"schema": "service_event/1", "id": str(uuid.uuid4())}
    envelope = send_envelope.sync(client=client, body=[event, nonsense, event])
    assert isinstance(envelope, EnvelopeResults), envelope
    results = [item.result for item in envelope.results]
    assert results == ["created", "quarantined", "duplicate"], results
    assert envelope.results[2].receipt.digest == envelope.results[0].receipt.digest
    held = envelope.results[1].custody_id

    expected = {("service_event", event["id"]), ("custody", str(held))}
    heard, end = follow(
        client, before.through, lambda heard: expected <= {(change.kind, str(change.id)) for change in heard})
    names = [(change.kind, str(change.id)) for change in heard]
    assert len(names) == len(set(names)), f"something was told twice: {names}"
    numbers = [change.sequence for change in heard]
    assert numbers == list(range(numbers[0], numbers[0] + len(numbers))), numbers
    # What was told can be read.
    assert any(kept.id == uuid.UUID(event["id"]) for kept in list_service_events.sync(client=client).items)
    assert get_held_item.sync(id=held, client=client).state == "open"

    streamed = stream(client, before.through)
    assert [change["sequence"] for change in streamed[: len(numbers)]] == numbers, streamed

    lost = list_changes.sync(client=client, after="elsewhere")
    assert isinstance(lost, ProblemBody) and lost.code == "bad_request", lost
    quiet = list_changes.sync(client=client, after=end)
    print(f"{len(envelope.results)} items sent, {len(heard)} changes followed, {len(quiet.items)} came later")


if __name__ == "__main__":
    # The service is reached directly, whatever proxy the machine uses.
    with AuthenticatedClient(
        base_url=sys.argv[1], token=os.environ["LAPWATCH_TOKEN"], timeout=60, httpx_args={"trust_env": False}
    ) as its_client:
        day(its_client)
