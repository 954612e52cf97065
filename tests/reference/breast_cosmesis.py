"""Months until the breast retracted after treatment of cancer, known to lie in intervals.

Finkelstein, D.M. and Wolfe, R.A. (1985), Biometrics 41, 933-945, tables 1 and 2. Two codings
of the second group are in use: Klein and Moeschberger (Survival Analysis, 2003, section
1.18), with 49 patients two of which have a time known exactly, and Fay and Shaw (2010,
Journal of Statistical Software 36(2)), with 48. An open end means not yet at that visit.
"""

import numpy as np

from planner.survey.interval_likelihood import Intervals

_RADIOTHERAPY = """
    0-5 0-7 0-8 4-11 5-11 5-12 6-10 7-14 7-16 11-15 11-18 17-25 17-25 18-26 19-35 25-37 26-40
    27-34 36-44 36-48 37-44 15- 17- 18- 22- 24- 24- 32- 33- 34- 36- 36- 37- 37- 37- 38- 40-
    45- 46- 46- 46- 46- 46- 46- 46- 46-
"""
_BOTH_AS_KLEIN = """
    0-5 0-22 4-8 4-9 5-8 8-12 8-21 10-17 10-35 11-13 11-17 11-20 12-20 13-39 14-17 14-19 15-22
    16-20 16-24 16-24 16-60 17-23 17-26 17-27 18-24 18-25 19-32 22-32 24-30 24-31 30-34 30-36
    33-40 34-34 35-39 44-48 48-48 11- 11- 13- 13- 13- 21- 23- 31- 32- 34- 34- 35-
"""
_BOTH_AS_FAY = """
    8-12 0-22 24-31 17-27 17-23 24-30 16-24 13- 11-13 16-20 18-25 17-26 32- 23- 44-48 14-17
    0-5 5-8 12-20 11- 33-40 31- 13-39 19-32 34- 13- 16-24 35- 15-22 11-17 22-32 10-35 30-34
    13- 10-17 8-21 4-9 11- 14-19 4-8 34- 30-36 18-24 16-60 35-39 21- 11-20 48-
"""


def _read(text):
    pairs = [pair.split("-") for pair in text.split()]
    lower = [float(low) for low, _ in pairs]
    upper = [float(high) if high else np.inf for _, high in pairs]
    return Intervals(np.array(lower), np.array(upper))


RADIOTHERAPY = _read(_RADIOTHERAPY)
BOTH = _read(_BOTH_AS_KLEIN)
BOTH_AS_FAY = _read(_BOTH_AS_FAY)
_JOINED = _read(_RADIOTHERAPY + _BOTH_AS_KLEIN)
_OPEN_LAST = np.argsort(np.isinf(_JOINED.upper), kind="stable")
ALL = Intervals(_JOINED.lower[_OPEN_LAST], _JOINED.upper[_OPEN_LAST])
WEIGHTS_OF_ALL = np.resize([1.0, 2.0, 3.0], ALL.lower.size)[None, :]
