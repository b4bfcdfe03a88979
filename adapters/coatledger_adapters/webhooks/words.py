"""Every statement about webhooks, put into words for one engine; parameters in their order."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, Table, bindparam, delete, exists, func, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.sql import ClauseElement

from coatledger_adapters.queries import first, whole, word
from coatledger_adapters.tables import DELIVERY, HEAD, NOTICE, WEBHOOK

_Upsert = Callable[[Table], sqlite.Insert] | Callable[[Table], postgresql.Insert]

_WEBHOOK_COLUMNS = (
    WEBHOOK.c.webhook_id, WEBHOOK.c.label, WEBHOOK.c.url, WEBHOOK.c.kinds, WEBHOOK.c.state,
    WEBHOOK.c.secret, WEBHOOK.c.created_at, WEBHOOK.c.older_secret, WEBHOOK.c.older_until,
    WEBHOOK.c.success_at, WEBHOOK.c.failure_at, WEBHOOK.c.says,
)  # fmt: skip
_DELIVERY_COLUMNS = (
    DELIVERY.c.number, NOTICE.c.message_id, NOTICE.c.kind, DELIVERY.c.state, DELIVERY.c.tries,
    DELIVERY.c.due_at, DELIVERY.c.tried_at, DELIVERY.c.status, DELIVERY.c.says,
)  # fmt: skip
_OF_WEBHOOK = (WEBHOOK.c.shop == word("shop")) & (WEBHOOK.c.webhook_id == word("webhook_id"))
_OF_DELIVERY = (DELIVERY.c.shop == word("shop")) & (DELIVERY.c.webhook_id == word("webhook_id"))
_THIS_DELIVERY = _OF_DELIVERY & (DELIVERY.c.number == whole("number"))
_TOLD = DELIVERY.join(
    NOTICE, (NOTICE.c.shop == DELIVERY.c.shop) & (NOTICE.c.number == DELIVERY.c.number)
)


@dataclass(frozen=True)
class BookWords:
    """The words of each statement."""

    webhooks: str
    add_webhook: str
    change: str
    end: str
    succeeded: str
    failed: str
    delete: str
    delete_deliveries: str
    keep_wanted: str
    told: str
    told_about: str
    last_number: str
    add_notice: str
    add_delivery: str
    overtake: str
    due: str
    first_due: str
    lease: str
    mark: str
    deliveries: str
    counts: str
    since: str
    send_again: str


def words_for(words: Callable[[ClauseElement], str], *, is_sqlite: bool) -> BookWords:
    """Put every statement into an engine's words."""
    upsert: _Upsert = sqlite.insert if is_sqlite else postgresql.insert
    described = ("label", "url", "kinds", "state", "secret", "older_secret", "older_until")
    return BookWords(
        webhooks=words(_webhooks()),
        add_webhook=words(insert(WEBHOOK)),
        change=words(_set(WEBHOOK, *described).where(_OF_WEBHOOK)),
        end=words(_set(WEBHOOK, "state").where(_OF_WEBHOOK)),
        succeeded=words(_set(WEBHOOK, "success_at").where(_OF_WEBHOOK)),
        failed=words(_set(WEBHOOK, "failure_at", "says").where(_OF_WEBHOOK)),
        delete=words(delete(WEBHOOK).where(_OF_WEBHOOK)),
        delete_deliveries=words(delete(DELIVERY).where(_OF_DELIVERY)),
        keep_wanted=words(_set(HEAD, "wanted").where(HEAD.c.shop == word("shop"))),
        told=words(_told()),
        told_about=words(_told_about()),
        last_number=words(_last_number()),
        add_notice=words(_unless_there(upsert)),
        add_delivery=words(insert(DELIVERY)),
        overtake=words(_overtake()),
        due=words(_due()),
        first_due=words(_first_due()),
        lease=words(_set(DELIVERY, "tries", "due_at").where(_THIS_DELIVERY)),
        mark=words(_mark()),
        deliveries=words(_deliveries()),
        counts=words(_counts()),
        since=words(_since()),
        send_again=words(_send_again(upsert)),
    )


def _set(table: Any, *columns: str) -> Any:
    """An update whose parameters stand in the order of these columns."""
    values = [
        (table.c[name], bindparam(f"new_{name}", type_=table.c[name].type)) for name in columns
    ]
    return update(table).ordered_values(*values)


def _webhooks() -> Select[Any]:
    query = select(*_WEBHOOK_COLUMNS).where(WEBHOOK.c.shop == word("shop"))
    return query.order_by(WEBHOOK.c.created_at, WEBHOOK.c.webhook_id)


def _told() -> Select[Any]:
    query = select(NOTICE.c.number, NOTICE.c.at, NOTICE.c.body)
    here = (NOTICE.c.shop == word("shop")) & (NOTICE.c.kind == word("kind"))
    return first(query.where(here, NOTICE.c.number > whole("after")).order_by(NOTICE.c.number))


def _told_about() -> Select[Any]:
    """In the order of the core's `Message`."""
    query = select(
        NOTICE.c.message_id, NOTICE.c.kind, NOTICE.c.wanted_as, NOTICE.c.position, NOTICE.c.about,
        NOTICE.c.ends, NOTICE.c.body,
    )  # fmt: skip
    here = (NOTICE.c.shop == word("shop")) & (NOTICE.c.about == bindparam("about"))
    return query.where(here).order_by(NOTICE.c.number)


def _last_number() -> Select[Any]:
    query = select(NOTICE.c.number).where(NOTICE.c.shop == word("shop"))
    return first(query.order_by(NOTICE.c.number.desc()))


def _mark() -> ClauseElement:
    marked: ClauseElement = _set(DELIVERY, "state", "due_at", "tried_at", "status", "says").where(
        _THIS_DELIVERY,
        DELIVERY.c.state == word("was"),
        DELIVERY.c.tries == whole("tries_then"),
    )
    return marked


def _deliveries() -> Select[Any]:
    query = select(*_DELIVERY_COLUMNS).select_from(_TOLD)
    state, before = DELIVERY.c.state == word("state"), DELIVERY.c.number < whole("before")
    return first(query.where(_OF_DELIVERY, state, before).order_by(DELIVERY.c.number.desc()))


def _counts() -> Select[Any]:
    query = select(DELIVERY.c.state, func.count()).where(_OF_DELIVERY)
    return query.group_by(DELIVERY.c.state)


def _unless_there(upsert: _Upsert) -> ClauseElement:
    """Add a message and return its number; one that was told before adds and returns nothing."""
    added = upsert(NOTICE).on_conflict_do_nothing(
        index_elements=[NOTICE.c.shop, NOTICE.c.message_id]
    )
    return added.returning(NOTICE.c.number)


def _overtake() -> ClauseElement:
    number = (
        select(NOTICE.c.number)
        .where(NOTICE.c.shop == word("shop_"), NOTICE.c.message_id == word("ends"))
        .scalar_subquery()
    )
    overtaken: ClauseElement = _set(DELIVERY, "state").where(
        DELIVERY.c.shop == word("shop"),
        DELIVERY.c.number == number,
        DELIVERY.c.state != word("but"),
    )
    return overtaken


def _due() -> ClauseElement:
    """When the first message of each webhook that is on becomes due."""
    joined = DELIVERY.join(
        WEBHOOK,
        (WEBHOOK.c.shop == DELIVERY.c.shop) & (WEBHOOK.c.webhook_id == DELIVERY.c.webhook_id),
    )
    return (
        select(DELIVERY.c.webhook_id, func.min(DELIVERY.c.due_at))
        .select_from(joined)
        .where(
            DELIVERY.c.shop == word("shop"),
            WEBHOOK.c.state == word("on"),
            DELIVERY.c.state == word("waiting"),
        )
        .group_by(DELIVERY.c.webhook_id)
    )


def _first_due() -> Select[Any]:
    query = select(DELIVERY.c.number, DELIVERY.c.tries, NOTICE.c.message_id, NOTICE.c.body)
    return first(
        query.select_from(_TOLD)
        .where(
            _OF_DELIVERY,
            DELIVERY.c.state == word("state"),
            DELIVERY.c.due_at <= whole("now"),
        )
        .order_by(DELIVERY.c.number)
    )


def _since() -> Select[Any]:
    """What was told since a place and a time, and was not taken back."""
    later = NOTICE.alias()
    taken_back = exists().where(later.c.shop == NOTICE.c.shop, later.c.ends == NOTICE.c.message_id)
    return first(
        select(NOTICE.c.number, NOTICE.c.position)
        .where(
            NOTICE.c.shop == word("shop"),
            NOTICE.c.wanted_as == word("kind"),
            NOTICE.c.position > whole("after"),
            NOTICE.c.at >= whole("since"),
            ~taken_back,
        )
        .order_by(NOTICE.c.position, NOTICE.c.number)
    )


def _send_again(upsert: _Upsert) -> ClauseElement:
    new = upsert(DELIVERY)
    fresh = {name: new.excluded[name] for name in ("state", "tries", "due_at")}
    return new.on_conflict_do_update(index_elements=list(DELIVERY.primary_key), set_=fresh)
