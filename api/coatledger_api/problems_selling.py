"""Why a date cannot be quoted, held, promised or replayed: kinds of problems of their own."""

from collections.abc import Mapping

from coatledger.refusal import Rule

SELLING: Mapping[str, Rule] = {
    "unknown_offering": Rule(
        404,
        "Nothing of that word is sold",
        "A SKU or offering that was asked for is not described in this ledger; each fault names "
        "its place.",
        "Check the word, or record offering_described.",
    ),
    "not_offered": Rule(
        409,
        "Not sold at present",
        "The offering is paused.",
        "Ask the shop; an offering_described without `paused` takes it up again.",
    ),
    "cannot_promise": Rule(
        409,
        "No date can be given",
        "Something is missing without which no ship date can be computed, or the work could never "
        "be done; each fault names one thing.",
        "Record what is missing: hours, people, pick-up days, a schedule, a data sheet.",
    ),
    "capacity_gone": Rule(
        409,
        "Not by that day",
        "The day that was asked for at the latest cannot be kept at the shop's level; `quote` says "
        "what can.",
        "Take a later day, fewer pieces, or one of the ways that the quote names.",
    ),
    "hold_reused": Rule(
        409,
        "The word already holds something else",
        "A hold of this word was placed with other content.",
        "Choose a new word for a new hold.",
    ),
    "hold_taken": Rule(
        409,
        "The hold is of another order",
        "The hold is being promised, or was promised, to another order.",
        "Place a hold for this order, or promise it from its lines.",
    ),
    "holds_full": Rule(
        409,
        "Too many holds",
        "As many holds count as the shop keeps at once.",
        "Release those that nobody needs, or wait until one ends.",
    ),
    "hold_over": Rule(
        410,
        "The hold is over",
        "The hold ended, and the day that was held can no longer be kept at the shop's level. "
        "`quote` is a fresh one.",
        "Offer the customer the new day, and promise the order from its lines.",
    ),
    "promised_otherwise": Rule(
        409,
        "The order was promised otherwise",
        "The order has a promise already that another call made, or its lines are not those that "
        "were asked for.",
        "Read the promise; record promise_revised for another day.",
    ),
    "engine_differs": Rule(
        409,
        "Made by another engine",
        "The promise was computed by another version of the engine than this one, so that the same "
        "numbers cannot be expected of it.",
        "Replay it with the version of the program that `detail` names.",
    ),
    "not_computed": Rule(
        409,
        "Not computed here",
        "A person told this date; the ledger holds nothing to compute it from.",
        "Ask for the order's present chance instead.",
    ),
    "no_day_in_time": Rule(
        503,
        "No day in time",
        "The day could not be computed while the page waited; `ship_promise` tells the shop's "
        "stated lead, where it has one.",
        "Show what `ship_promise` says, and ask again after Retry-After.",
    ),
    "busy": Rule(
        503,
        "Too much to simulate",
        "More dates are asked for at once than this service computes; nothing was held or "
        "promised.",
        "Send the same request again after Retry-After.",
    ),
}
