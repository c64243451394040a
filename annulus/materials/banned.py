"""Fillers that are refused, and words that call for a caution.

Goes in: whatever text names a material. Comes out: a MaterialError with the
reason, or sentences to show. Matching is by words, so that a material defined
in place under a name of its own is checked as well. The list follows common
practice of the trade; it has no single source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from annulus.errors import MaterialError, quoted

if TYPE_CHECKING:
    from annulus.materials.law import Material

SPELLINGS = (
    ("aluminum", "aluminium"),
    ("galvanized", "galvanised"),
    ("oxidized", "oxidised"),
    ("fiber", "fibre"),
)

LONGEST_NAME = 200  # characters; the rules below take time with the square of the length

_LIGHT_METALS = r"(?:aluminium|magnesium|titanium|zinc)"
_COMPOUND = r"(?:oxide|dioxide|silicate|carbonate|nitride|carbide|hydroxide|phosphate)"
_FINE = (
    r"(?:powder|powders|powdered|dust|turnings|filings|swarf|chips|shavings|flakes?|grit|granules|"
    r"granulate|borings|grindings|paste|fines|wool|shot|pellets)"
)
_BETWEEN = r"(?:[\s-]+\w+){0,2}?[\s-]+"  # "aluminium casting swarf" is one thing, "wool, aluminium faced" is two
_METAL_ITSELF = rf"\b{_LIGHT_METALS}\b(?![\s-]+{_COMPOUND}\b)"

RULES: tuple[tuple[str, str], ...] = (
    (
        rf"{_METAL_ITSELF}{_BETWEEN}{_FINE}\b|\b{_FINE}[\s-]+(?:of[\s-]+)?{_METAL_ITSELF}|\bthermite\b",
        "finely divided aluminium, magnesium, titanium or zinc burns like thermite against rust and gives "
        "hydrogen with water",
    ),
    (
        r"\bsaw[\s-]*dust\b|\bwood\b(?!\s+ash(?:es)?\b)|\bwoodchips?\b|\bbark\b|\bstraw\b|\bhay\b|\bpaper\b|"
        r"\bcardboard\b|\bcellulose\b|\bcork\b|\bcotton\b|\bhemp\b|\bflax\b|\bpeat\b|\bcompost\b|\bhumus\b|"
        r"\bsheep'?s?\s+wool\b|\bfeathers?\b|\bsugar\b|\brice\b|\bhusks?\b|\bnutshells?\b|"
        r"(?<!quartz )(?<!silica )(?<!stone )(?<!rock )\bflour\b|"
        r"\bleaves\b|\bpotting\s+soil\b|\btopsoil\b|\borganic\b",
        "organic matter chars and then smoulders or burns at flue temperature",
    ),
    (
        r"\bcharcoal\b|\bcoal\b|\bcoke\b|\bbiochar\b",
        "charcoal and coal, also as a remainder in ash, glow in a hot cavity and give carbon monoxide",
    ),
    (
        r"\bwax\b|\bparaffin\b|\boils?\b|\bgrease\b|\btallow\b|\btar\b|\bbitumen\b|\basphalt\b|\bpitch\b|"
        r"\bresin\b|\bepoxy\b|\bplastics?\b|\brubber\b|\bpolystyrene\b|\bpolyurethane\b|\bpolyethylene\b|"
        r"\bpetrol\b|\bdiesel\b|\bglycerin\b|\bglycerine\b|\bglycol\b|\bantifreeze\b",
        "wax, oil, resin and plastic melt, leak and catch fire at flue temperature",
    ),
    (
        r"\bsalts?\b|\bsaltpet(?:re|er)\b|\w*chlorides?\b|\w*nitrates?\b|\w*nitrites?\b|\w*permanganates?\b|"
        r"\w*chlorates?\b|\bbrine\b|\bepsom\b",
        "salts draw water and eat copper and steel; nitrates, chlorates and permanganates feed a fire",
    ),
    (
        r"\blead\b",
        "lead melts at 327 degC and its fume is poisonous",
    ),
)

_SETTING = re.compile(r"\b(?:cement|plaster|mortar|concrete|grout|render)\b")
_NOT_SET = re.compile(r"\b(?:uncured|undried|unset|fresh|wet|green|raw|damp|moist|not\s+(?:cured|dried|dry|set))\b")
_SET = re.compile(r"\b(?:cured|dried|set|furnace|fire|refractory)\b")
SETTING_REASON = (
    "cement or plaster that is not cured and dried turns its water to steam in the closed cavity; "
    "name it 'cured ...' once it is"
)

_DISCLAIMED = re.compile(r"\b\w+[- ]free\b|\b(?:without|free\s+of|free\s+from|no)\s+\w+")

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        r"\b(?:wet|damp|moist)\b",
        "moist filler: above 0.5 % water the filler stays at 100 degC until dry and makes steam; "
        "dry it first and leave a vent hole at the top, never a sealed shroud",
    ),
    (r"\b(?:beach|sea|dune|marine)\b", "beach sand carries chloride, which pits copper and stainless steel"),
    (
        r"\bmetal(?:lic)?\s+(?:powder|filings|turnings|swarf|dust|chips)\b",
        "unknown metal powder: some burn or give hydrogen; find out which metal it is before filling",
    ),
    (r"\bvermiculite\b", "vermiculite of unknown age may hold asbestos; use only bagged, declared material"),
)


def plain(text: str) -> str:
    """Lower-case text with single blanks and one spelling of each word."""
    words = re.sub(r"[\s_]+", " ", text).strip().lower()
    for variant, used in SPELLINGS:
        words = words.replace(variant, used)
    return words


def refuse_if_banned(text: str) -> None:
    """Refuse a material that is a danger anywhere around a flue.

    Parameters
    ----------
    text : str
        Name or description of the material.

    Raises
    ------
    MaterialError
        With the words that matched and the reason.
    """
    if len(text) > LONGEST_NAME:
        raise MaterialError(f"material {quoted(text)} has a name of {len(text)} characters; {LONGEST_NAME} are enough")
    words = _DISCLAIMED.sub(" ", plain(text))
    reasons = []
    for pattern, reason in RULES:
        match = re.search(pattern, words)
        if match:
            reasons.append(f"'{match.group().strip()}': {reason}")
    if _SETTING.search(words) and (_NOT_SET.search(words) or not _SET.search(words)):
        reasons.append(SETTING_REASON)
    if reasons:
        raise MaterialError(f"material {quoted(text)} is refused: " + "; ".join(reasons))


def cautions_for(text: str) -> tuple[str, ...]:
    """Sentences to show because of the words in a material's name."""
    words = _DISCLAIMED.sub(" ", plain(text))
    return tuple(sentence for pattern, sentence in CAUTIONS if re.search(pattern, words))


def refuse_inside(material: Material, place: str) -> None:
    """Refuse zinc-coated metal as a flue or as an inner shroud.

    Parameters
    ----------
    material : Material
    place : str
        Where it is used, for the message: "flue", "shroud".

    Raises
    ------
    MaterialError
        If the material is zinc-coated (zinc melts at 419 degC; its long-term
        limit is about 200 degC, common practice).
    """
    if material.zinc:
        raise MaterialError(
            f"{place}: {material.name!r} is zinc-coated and must not be used inside: it fumes and flakes off "
            f"above about 200 degC and melts at 419 degC; use 'black steel' or 'stainless 304'"
        )
