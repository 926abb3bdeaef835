"""Invented names of people; given and family names are drawn apart and no pair is used twice."""

from random import Random

GIVEN = (
    "Noela", "Ivo", "Tam", "Rilla", "Bastin", "Odette", "Perrin", "Sunna", "Corvin", "Maelis", "Tobin", "Aveline",
    "Jorun", "Lio", "Kestra", "Emrin", "Dafna", "Orrin", "Sabeth", "Wynn", "Calla", "Hale", "Imre", "Yselle",
    "Fenna", "Matiz", "Ruvin", "Elka", "Nils-Aro", "Tilde", "Asker", "Brisa", "Leontin", "Mirka", "Quill", "Sorrel",
    "Anouk-Lise", "Davin", "Etta", "Florin", "Gisla", "Hedwin", "Ilka", "Joss", "Kaito-Ray", "Liv-Mara", "Milo-Finn",
    "Nadja-Lee", "Oskar-Bo", "Pia-Ro", "Ronja-May", "Silas-Ty", "Thea-Lu", "Ulf-Jon", "Vesna-Joy", "Wim", "Yara-Sol",
    "Zeno", "Amadi", "Chiara-Bee",
)  # fmt: skip
FAMILY = (
    "Tarn", "Lathe", "Quillfeather", "Marlpit", "Hobday-Wren", "Osterley", "Fennick", "Drovers", "Candlewick",
    "Pellow", "Thistlewood", "Brackwater", "Sandglass", "Yarrowby", "Coldbeck", "Larkspurre", "Millrace", "Oatbridge",
    "Farthing-Lowe", "Greywether", "Hazelrigg", "Inkpen", "Jossamer", "Kettlewell-Ash", "Loomis-Vane", "Merrowdown",
    "Nettlefold", "Ottershaw", "Plumbline", "Quernstone", "Rushlight", "Saltbox", "Turnstile", "Underhay", "Vellum",
    "Wickerby", "Yewdale", "Ambergate", "Bellwether", "Copperthwaite", "Dunlin", "Eavesdrop-Lea", "Flaxman-Orr",
    "Goldcrest", "Harrowgate", "Ivorsen", "Jackdaw", "Kindling", "Lanternby", "Mossop-Reed", "Nightingarth",
    "Orchardson", "Peppercorn", "Quickbeam", "Ravelin", "Skylarke", "Tanglewood", "Umberslade", "Vinegarth",
    "Woolgather", "Zephyrine",
)  # fmt: skip


class NameBook:
    """Hands out names so that no full name is given twice."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._given: list[str] = []
        self._family: list[str] = []
        self._taken: set[tuple[str, str]] = set()

    def family(self) -> str:
        """A family name, each as seldom as can be."""
        if not self._family:
            self._family = self._rng.sample(FAMILY, len(FAMILY))
        return self._family.pop()

    def given(self, family: str) -> str:
        """A given name that does not stand beside this family name yet."""
        while True:
            if not self._given:
                self._given = self._rng.sample(GIVEN, len(GIVEN))
            name = self._given.pop()
            if (name, family) not in self._taken:
                self._taken.add((name, family))
                return name

    def take(self, given: str, family: str) -> None:
        """Keep a full name for somebody who is named by hand."""
        self._taken.add((given, family))
