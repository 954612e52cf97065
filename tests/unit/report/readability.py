"""Flesch-Kincaid grade of a text.

Kincaid, Fishburne, Rogers and Chissom (1975) Derivation of new readability formulas for
Navy enlisted personnel, Research Branch Report 8-75: grade = 0.39 × words a sentence + 11.8 ×
syllables a word - 15.59. Syllables are counted as groups of vowels without a silent e, which
is common practice, no source.
"""

from __future__ import annotations

import re

NUMBER = re.compile(r"^[£$€]?-?\d")


def words_of(text):
    return [word for word in re.findall(r"[^\s()]+", text) if re.search(r"\w", word)]


def sentences_of(text):
    return [part for part in re.split(r"(?<=[.!?:])\s+(?=[A-Z])", text) if words_of(part)]


def syllables(word):
    """Count syllables; a number written in digits has at least one for each digit."""
    if NUMBER.match(word):
        return len(re.findall(r"\d", word))
    plain = re.sub(r"[^a-z]", "", word.lower())
    groups = len(re.findall(r"[aeiouy]+", plain))
    is_silent = re.search(r"[^aeiouyl]e$|[^aeiouydt]ed$|[^aeiouysxz]es$", plain) is not None
    return max(1, groups - (is_silent and groups > 1))


def grade(paragraphs):
    """Grade of paragraphs; a list item that ends without a full stop is a sentence."""
    sentences = [one for text in paragraphs for one in sentences_of(text)]
    words = [word for one in sentences for word in words_of(one)]
    per_sentence = len(words) / len(sentences)
    per_word = sum(map(syllables, words)) / len(words)
    return 0.39 * per_sentence + 11.8 * per_word - 15.59
