"""On which paper a country prints."""

LETTER_COUNTRIES = frozenset(["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"])
"""Where the usual sheet is US Letter, elsewhere A4: paperSize in Unicode CLDR, supplemental data (from memory)."""


def paper_size(country: str) -> str:
    """`letter` or `a4`, the name of the page in the style sheet."""
    return "letter" if country in LETTER_COUNTRIES else "a4"
