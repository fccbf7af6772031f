"""How much the materials of an engine grow with heat."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

# [1/K]. Source: W. D. Callister, Fundamentals of Materials Science and Engineering, 3rd ed., table B.6
# (ductile iron 60-40-18, aluminium 356.0 and 6061; grey iron and steels from memory); gauge-block steel:
# ISO 3650 (from memory). One cast differs from another by about 1e-6/K.
EXPANSION: Final[Mapping[str, float]] = MappingProxyType({
    "grey iron": 11.4e-6, "ductile iron": 11.2e-6, "cast aluminium": 21.5e-6, "wrought aluminium": 23.6e-6,
    "steel": 11.7e-6, "alloy steel": 12.3e-6, "master steel": 11.5e-6,
})  # fmt: skip
_ALSO: Final[Mapping[str, str]] = MappingProxyType({
    "iron": "grey iron", "cast iron": "grey iron", "gray iron": "grey iron", "gray cast iron": "grey iron",
    "grey cast iron": "grey iron", "nodular iron": "ductile iron", "aluminium": "cast aluminium",
    "aluminum": "cast aluminium", "alu": "cast aluminium", "cast aluminum": "cast aluminium",
    "aluminium 356": "cast aluminium", "aluminum 356": "cast aluminium",
    "wrought aluminum": "wrought aluminium", "forged aluminium": "wrought aluminium",
    "forged aluminum": "wrought aluminium", "aluminium 6061": "wrought aluminium",
    "aluminum 6061": "wrought aluminium", "forged steel": "alloy steel", "steel 1020": "steel",
    "steel 4140": "alloy steel",
})  # fmt: skip
MASTER: Final = EXPANSION["master steel"]


def expansion(material: str | None) -> float | None:
    """Linear expansion coefficient of a material named in words [1/K], None where the words are not known.

    A block of one metal with liners of another is none of these: what its bore does lies between the two.
    Source: the table above.

    Parameters
    ----------
    material : str or None
        Case, dashes, commas and double spaces do not matter.
    """
    if material is None:
        return None
    name = " ".join(material.casefold().replace("-", " ").replace(",", " ").split())
    return EXPANSION.get(_ALSO.get(name, name))


def is_aluminium(material: str | None) -> bool:
    """Whether a part is, by its name, wholly or partly of aluminium."""
    words = (material or "").casefold().replace("-", " ").replace(",", " ").split()
    return any(word == "alu" or word.startswith("alumin") for word in words)
