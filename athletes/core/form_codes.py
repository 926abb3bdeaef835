"""One-time codes on paper: a number that finds the form, then a secret, in letters that are not mistaken when typed."""

from dataclasses import dataclass

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Base 32 without I, L, O and U (Douglas Crockford, Base 32, crockford.com/base32.html)."""

MISTAKEN = str.maketrans("OIL", "011")
"""What is read as a digit when it was typed as a letter (the same source, decoding)."""

NUMBER_LENGTH, SECRET_LENGTH = 6, 13
"""13 letters of 32 are 65 bits, enough for a secret that is stored by a slow hash and dies after ten wrong ones."""

FIRST_NUMBER, LAST_NUMBER = 10 ** (NUMBER_LENGTH - 1), 10**NUMBER_LENGTH - 1


@dataclass(frozen=True, slots=True)
class FormCode:
    """What stands on a form: the number and the secret, without signs between them."""

    number: int
    secret: str

    @property
    def shown(self) -> str:
        """In groups, as it is printed."""
        groups = (self.secret[:5], self.secret[5:10], self.secret[10:])
        return "-".join((str(self.number), *groups))


def read_code(typed: str) -> FormCode | None:
    """The code in what somebody typed, however it is grouped; None where it cannot be one."""
    text = "".join(typed.split()).replace("-", "").upper().translate(MISTAKEN)
    number, secret = text[:NUMBER_LENGTH], text[NUMBER_LENGTH:]
    if not (number.isascii() and number.isdigit() and int(number) >= FIRST_NUMBER):
        return None
    if len(secret) != SECRET_LENGTH or not set(secret) <= set(ALPHABET):
        return None
    return FormCode(int(number), secret)
