"""Proofs: a piece's pack, the signed head of the ledger, and what outsiders say of it."""

import base64
from typing import Annotated

from coatledger.answers.proof import pack_of_piece, told_faults
from coatledger.computations.signed_note import NoteError, signature_of
from coatledger.events.base import Moment, Word, whole
from coatledger.findings.find import findings_of_piece
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.pack import Base64, Pack, pack_bytes
from coatledger.ledger.pack_check import check_pack
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.ledger.tree import consistency
from coatledger_adapters.checkpoints import BrokenHistoryError, Kept, NoSuchHeadError, for_pack
from coatledger_adapters.signing import verify
from coatledger_adapters.stamps import with_stamp
from msgspec import Meta, Struct

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.paper.proof_page import proof_page
from coatledger_api.paper.proof_words import HEADERS
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError, ProblemFault
from coatledger_api.service import Service

HTML, TEXT = "text/html", "text/plain"
# An em dash, a name without a plus, and Base64 of a key's four bytes of id with a signature.
Line = Annotated[
    str,
    Meta(
        pattern=whole(
            r"— [!-*,-~]{1,200} ([A-Za-z0-9+/]{4})+([A-Za-z0-9+/]{4}|"
            r"[A-Za-z0-9+/]{2}[AEIMQUYcgkosw048]=|[A-Za-z0-9+/]{5}[AQgw]==)"
        ),
        max_length=4000,
        description="One signature of a signed note, as its maker sent it (C2SP).",
    ),
]
Size = Annotated[int, Meta(ge=1, le=10**12, description="A number of events.")]


class OneProof(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Whose proof."""

    piece: Word


class Since(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which earlier head the answer should be shown to continue."""

    since: Annotated[
        Size | None, Meta(description="Prove that the head with so many events is its beginning.")
    ] = None


class SignedHead(Struct, frozen=True, kw_only=True):
    """The ledger's head: a C2SP checkpoint as a signed note, and the key it is signed with.

    `consistency` proves that the head of `since` events is the beginning of this one (RFC 6962).
    """

    size: int
    note: str
    key: str
    signed_at: Moment
    stamp: Base64 | None = None
    since: int | None = None
    consistency: tuple[Base64, ...] = ()


class Vouched(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What outsiders say of the head signed at `size` events: cosigners' lines as they stand in a
    signed note, an RFC 3161 token over the SHA-256 of the head's text, or both."""

    size: Size
    lines: Annotated[tuple[Line, ...], Meta(max_length=16)] = ()
    stamp: Annotated[Base64, Meta(min_length=4, max_length=100_000)] | None = None


@running("GET", "/v1/pieces/{piece}/proof", tag="Proofs", scope="audit",
         answers={JSON: Pack, HTML: str}, problems=("not_found", "history_broken"))  # fmt: skip
async def read_piece_proof(call: Call[OneProof]) -> Reply:
    """Read the proof pack of a piece: everything that happened to it, provable offline.

    Keep the file as it came: `coatledger verify FILE --key …` checks it with nothing but the shop's
    public key. With `Accept: text/html` it is a page to read and print, with the film drawn.
    """
    piece, service = call.query.piece, call.service
    pack = await service.in_thread(lambda: _pack(service, piece))
    if pack is None:
        raise ProblemError("not_found", f"no event names piece {piece}")
    if call.media_type == JSON:
        return Reply(pack_bytes(pack))
    page = await service.in_thread(lambda: _page(service, pack))
    return Reply(page, media_type="text/html; charset=utf-8", headers=HEADERS)


@running("GET", "/v1/checkpoint", tag="Proofs", scope="audit",
         answers={JSON: SignedHead, TEXT: str},
         problems=("not_found", "history_broken"))  # fmt: skip
async def read_checkpoint(call: Call[Since]) -> Reply:
    """Read the signed head of the ledger as it is now.

    Whoever keeps it can show later what the ledger was: it fits on a packing slip. With
    `Accept: text/plain` it comes as the signed note that cosigners read; `since` adds the proof
    they ask for.
    """
    service, since = call.service, call.query.since
    kept = await service.in_thread(lambda: _sign(service))
    if call.media_type == TEXT:
        return Reply(kept.note.whole.encode(), media_type="text/plain; charset=utf-8")
    if since is not None and since > kept.size:
        raise ProblemError("not_found", f"the ledger has {kept.size} events, not {since}")
    proof: tuple[bytes, ...] = ()
    if since is not None:
        proof = await service.read(lambda reader: consistency(reader, since, kept.size))
    return Reply(ENCODER.encode(_head(service, kept, since, proof)))


@running("POST", "/v1/checkpoint", tag="Proofs", scope="admin", answers={JSON: SignedHead},
         body=Vouched, problems=("malformed", "invalid", "not_found"))  # fmt: skip
async def add_to_checkpoint(call: Call[Nothing]) -> Reply:
    """Keep with a signed head what outsiders say of it; packs under that head carry it along.

    Lines are kept as they are: whoever reads them checks them with the cosigner's key. A stamp must
    be over this head's text; whoever has its issuer's certificate checks the rest. A later stamp
    takes the place of an earlier one.
    """
    service = call.service
    vouched: Vouched = typed(plain(call.body), Vouched)
    try:
        lines = [signature_of(line) for line in vouched.lines]
        stamp = None if vouched.stamp is None else base64.b64decode(vouched.stamp, validate=True)
        kept = await service.in_thread(lambda: service.heads.add(vouched.size, lines, stamp))
    except NoSuchHeadError as error:
        raise ProblemError("not_found", str(error)) from None
    except ValueError as error:  # a signed note's fault, or Base64's
        raise _invalid("/lines" if isinstance(error, NoteError) else "/stamp", error) from None
    return Reply(ENCODER.encode(_head(service, kept)))


OPERATIONS: tuple[Operation, ...] = (read_piece_proof, read_checkpoint, add_to_checkpoint)


def _sign(service: Service) -> Kept:
    try:
        return service.heads.sign(micros(service.clock()))
    except BrokenHistoryError as error:
        raise ProblemError("history_broken", str(error)) from None


def _pack(service: Service, piece: str) -> Pack | None:
    kept = _sign(service)

    def write(reader: Reader) -> Pack | None:
        found = findings_of_piece(reader, piece, as_of_us=kept.signed_us, known=kept.size)
        signed = for_pack(kept, service.heads.signer)
        return pack_of_piece(reader, service.store.shop, piece, signed, found)

    with service.store.reading() as reader:
        return write(reader)


def _page(service: Service, pack: Pack) -> bytes:
    verdict = check_pack(pack_bytes(pack), pack, service.heads.signer.key, verify)
    verdict = with_stamp(verdict, pack)
    return proof_page(pack, verdict._replace(faults=(*verdict.faults, *told_faults(pack))))


def _head(
    service: Service, kept: Kept, since: int | None = None, proof: tuple[bytes, ...] = ()
) -> SignedHead:
    return SignedHead(
        size=kept.size,
        note=kept.note.whole,
        key=service.heads.signer.key.text,
        signed_at=moment(kept.signed_us),
        stamp=None if kept.stamp is None else _base64(kept.stamp),
        since=since,
        consistency=tuple(_base64(step) for step in proof),
    )


def _invalid(pointer: str, error: Exception) -> ProblemError:
    fault = ProblemFault(rule="invalid", detail=str(error), pointer=pointer)
    return ProblemError("invalid", str(error), faults=[fault])


def _base64(value: bytes) -> str:
    return base64.b64encode(value).decode("ascii")
