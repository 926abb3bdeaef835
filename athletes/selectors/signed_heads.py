"""Reads signed heads of the access log: from their rows, and from the file outside the database."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from uuid import UUID

from athletes.core.chain import ChainFault, canonical, witness_of, witnessed
from athletes.log_key import is_signed
from athletes.models import SignedHead


@dataclass(frozen=True, slots=True)
class Head:
    """A signed head as its file has it, one JSON object a line; all but the signature is signed."""

    club: str
    after_seq: int
    seq: int
    hash: str
    witness: str
    at: str
    signature: str = ""

    @property
    def signed_text(self) -> bytes:
        """What the signature covers."""
        return canonical({name: value for name, value in asdict(self).items() if name != "signature"})

    @property
    def line(self) -> str:
        return json.dumps(asdict(self), sort_keys=True) + "\n"

    def is_good(self, key: str) -> bool:
        """Signed with the private half of `key`, and of one piece."""
        fits = self.witness.endswith(witness_of([self.hash])) and self.seq == self._last_seq
        return fits and is_signed(self.signed_text, signature=self.signature, key=key)

    @property
    def _last_seq(self) -> int:
        return self.after_seq + sum(1 for _ in witnessed(self.after_seq, self.witness))


def head_of(row: SignedHead) -> Head:
    """The head that a row holds."""
    return Head(
        club=str(row.club_id),
        after_seq=row.after_seq,
        seq=row.seq,
        hash=row.hash,
        witness=row.witness,
        at=row.at.isoformat(),
        signature=row.signature,
    )


def heads_in_rows(club_id: UUID) -> Iterator[Head]:
    """A club's heads in the order of its chain."""
    for row in SignedHead.objects.filter(club_id=club_id).order_by("seq").iterator(chunk_size=50):
        yield head_of(row)


def heads_in_file(path: Path) -> Iterator[Head]:
    """The heads in a file, as far as its lines are whole; none where there is no file."""
    if not path.exists():
        return
    with path.open(encoding="utf-8") as lines:
        for line in lines:
            try:
                yield Head(**json.loads(line))
            except (ValueError, TypeError):
                continue


def newest_head(club_id: UUID) -> Head | None:
    """The head that was signed last."""
    row = SignedHead.objects.filter(club_id=club_id).order_by("-seq").first()
    return head_of(row) if row else None


def fault_of_heads(heads: Iterable[Head], *, key: str) -> ChainFault | None:
    """The first head that was not signed with the private half of `key`."""
    return next((ChainFault(head.after_seq + 1, "signature") for head in heads if not head.is_good(key)), None)


def vouched_for(heads: Iterable[Head]) -> Iterator[tuple[int, str]]:
    """What heads in order of the chain vouch for, each entry once."""
    last = 0
    for head in heads:
        for seq, digits in witnessed(head.after_seq, head.witness):
            if seq > last:
                yield seq, digits
                last = seq
