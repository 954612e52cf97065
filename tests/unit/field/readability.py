"""How easy a French or Spanish text is to read, by published formulas.

- French, ease: Kandel and Moles (1958), 207 - 1.015 words a sentence - 73.6 syllables a word
  (the constant 73.6 as read in pages on it; the citation from memory).
- Spanish, ease: Fernández Huerta (1959), 206.84 - 60 syllables a word - 1.02 words a sentence,
  as put right by Law (2011), read at legible.es; Szigriszt Pazos (1993), 206.835 - 62.3
  syllables a word - words a sentence, read there too.

On the scales of ease 70 and more is what a reader of grade 6 or 7 reads with ease: legible.es
prints "70-80: 6th grade" for Fernández Huerta and "66-75: 12 years" for Szigriszt.
Sentences end at a full stop, question mark, exclamation mark, colon or the end of a piece.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

VOWELS = {
    "fr": "aeiouyàâäéèêëîïôöùûüœæ",
    "es": "aeiouáéíóúü",
}


@dataclass(frozen=True)
class Counts:
    """Words, sentences and syllables of a text."""

    words: int
    sentences: int
    syllables: int

    @property
    def words_per_sentence(self):
        return self.words / self.sentences

    @property
    def syllables_per_word(self):
        return self.syllables / self.words


def counted(pieces, language):
    """Count pieces of text, each of which ends a sentence."""
    sentences = [
        part
        for piece in pieces
        for part in re.split(r"(?<=[.!?:;])\s+", piece.strip())
        if re.search(r"\w", part)
    ]
    words = [word for part in sentences for word in re.findall(r"[^\W_]+", part)]
    return Counts(len(words), len(sentences), sum(syllables(word, language) for word in words))


def syllables(word, language):
    """Count the syllables of a word by the letters it is written with."""
    word = unicodedata.normalize("NFC", word.lower())
    if not re.search(r"[^\W\d_]", word):
        return 1
    return max(1, {"fr": _french, "es": _spanish}[language](word))


def _french(word):
    groups = len(re.findall(f"[{VOWELS['fr']}]+", word))
    # the mute e of written French: -e, -es and the -ent of verbs are not spoken at the end
    is_mute = re.search(r"[^aeiouyàâäéèêëîïôöùûüœæ](e|es)$", word)
    return groups - (1 if is_mute and groups > 1 else 0)


def _spanish(word):
    word = re.sub(r"([qg])u(?=[eiéí])", r"\1", word)
    strong = "aeoáéíóú"
    # two strong vowels, or an accented í or ú, are in syllables of their own
    count, before = 0, ""
    for letter in word:
        is_vowel = letter in VOWELS["es"]
        if is_vowel and (
            before not in VOWELS["es"] or before == "" or (before in strong and letter in strong)
        ):
            count += 1
        before = letter
    return count


def kandel_moles_ease(counts):
    return 207.0 - 1.015 * counts.words_per_sentence - 73.6 * counts.syllables_per_word


def fernandez_huerta_ease(counts):
    return 206.84 - 60.0 * counts.syllables_per_word - 1.02 * counts.words_per_sentence


def szigriszt_ease(counts):
    return 206.835 - 62.3 * counts.syllables_per_word - counts.words_per_sentence
