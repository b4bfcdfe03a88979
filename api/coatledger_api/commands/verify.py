"""`coatledger verify`: check a proof pack with nothing but the file and the shop's public key."""

from collections.abc import Sequence
from pathlib import Path

import click
import msgspec
from coatledger.answers.proof import told_faults
from coatledger.computations.signed_note import Key, NoteError, key_of
from coatledger.ledger.pack import Pack, pack_of
from coatledger.ledger.pack_check import Verdict, check_pack
from coatledger_adapters.signing import verify
from coatledger_adapters.stamps import with_stamp
from cryptography import x509

from coatledger_api.commands.reach import Failed, Misused
from coatledger_api.commands.shown import count, say
from coatledger_api.paper.proof_page import proof_page

FAULTS_SHOWN = 20


@click.command("verify")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--key",
    envvar="COATLEDGER_SHOP_KEY",
    help="The shop's public key, as the shop gave it to you: name+id+Base64.",
)
@click.option("--cosigner", multiple=True, help="Public key of somebody who vouches; repeatable.")
@click.option(
    "--stamped-by",
    "authorities",
    multiple=True,
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Certificate (PEM) of whoever vouches for the enclosed time stamp; repeatable.",
)
@click.option(
    "--page",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write the pack as a page to read or print.",
)
def command(
    file: Path, key: str | None, cosigner: tuple[str, ...], authorities: tuple[Path, ...],
    page: Path | None,
) -> None:  # fmt: skip
    """Check the proof pack in FILE, and say what is proven and what is only stated.

    Nothing is asked of any service. The key must have come to you from the shop by another way
    than this file: it is printed on packing slips and given out at /v1/checkpoint.
    """
    pack, data = _read(file)
    if key is None:
        raise Misused(
            "Give the shop's public key with --key. The file itself names "
            f"{pack.key}; do not take it from there, for a forger would have put his own."
        )
    verdict = check_pack(data, pack, _key(key), verify, [_key(text) for text in cosigner])
    verdict = with_stamp(verdict, pack, _certificates(authorities))
    verdict = verdict._replace(faults=(*verdict.faults, *told_faults(pack)))
    if not verdict.holds:
        raise Failed("\n".join(_broken(pack, verdict)))
    _tell(pack, verdict)
    if page is not None:
        page.write_bytes(proof_page(pack, verdict))
        say(f"\nWritten to {page}.")


def _read(file: Path) -> tuple[Pack, bytes]:
    data = file.read_bytes()
    try:
        return pack_of(data), data
    except msgspec.DecodeError as fault:
        raise Failed(f"{file} is no proof pack of this kind: {fault}.") from None


def _key(text: str) -> Key:
    try:
        return key_of(text)
    except NoteError as fault:
        raise Misused(f"{text!r} is no public key: {fault}.") from None


def _certificates(files: Sequence[Path]) -> list[x509.Certificate]:
    found: list[x509.Certificate] = []
    for file in files:
        try:
            found += x509.load_pem_x509_certificates(file.read_bytes())
        except ValueError as fault:
            raise Misused(f"{file} holds no certificate: {fault}.") from None
    return found


def _broken(pack: Pack, verdict: Verdict) -> list[str]:
    lines = [f"The pack of piece {pack.piece} does not hold."]
    if verdict.first_bad is not None:
        lines.append(f"The first event that is not as it was signed: {verdict.first_bad}.")
    lines += [f"  {fault}" for fault in verdict.faults[:FAULTS_SHOWN]]
    more = len(verdict.faults) - FAULTS_SHOWN
    return [*lines, f"  and {count(more, 'fault')} more"] if more > 0 else lines


def _tell(pack: Pack, verdict: Verdict) -> None:
    say(f"The pack of piece {pack.piece} of {pack.shop} holds.")
    say("\nProven:")
    for line in verdict.proven:
        say(f"  {line}")
    say("\nOnly stated by the shop:")
    for line in verdict.stated:
        say(f"  {line}")
