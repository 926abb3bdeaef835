"""Who may do what with a young athlete's data: one decision from facts, without database, clock or language."""

from athletes.core.permissions.codes import Answer, Code
from athletes.core.permissions.decide import decide
from athletes.core.permissions.facts import FactError, Facts, Guardian

__all__ = ["Answer", "Code", "FactError", "Facts", "Guardian", "decide"]
