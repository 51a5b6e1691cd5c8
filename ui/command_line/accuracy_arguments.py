"""Accuracies on the command line, such as res=0.01,rep=0.02, for argparse; what is not named keeps its default."""

import argparse
from collections.abc import Callable
from dataclasses import replace

from core.errors import BadInputError
from core.metrology.accuracy import CouponForm, InstrumentAccuracy

_ACCURACY_FIELDS = {"res": "resolution", "rep": "repeatability", "lin": "linearity", "zero": "zero_sd"}
_FORM_FIELDS = {"edge": "edge_mm", "diagonal": "diagonal_mm", "seat": "seat_mm", "corner": "corner_deg"}


def accuracy_argument(default: InstrumentAccuracy) -> Callable[[str], InstrumentAccuracy]:
    """Parser of `res=,rep=,lin=,zero=`: resolution, repeatability, linearity, sd of the zero; mm or degrees."""

    def parse(text: str) -> InstrumentAccuracy:
        try:
            return replace(default, **_numbers(text, _ACCURACY_FIELDS))
        except BadInputError as exc:
            raise argparse.ArgumentTypeError(str(exc)) from exc

    return parse


def form_argument(default: CouponForm) -> Callable[[str], CouponForm]:
    """Parser of `edge=,diagonal=,seat=,corner=`: standard deviations of the coupon's form, mm and degrees."""

    def parse(text: str) -> CouponForm:
        try:
            return replace(default, **_numbers(text, _FORM_FIELDS))
        except BadInputError as exc:
            raise argparse.ArgumentTypeError(str(exc)) from exc

    return parse


def _numbers(text: str, fields: dict[str, str]) -> dict[str, float]:
    numbers: dict[str, float] = {}
    for part in text.split(","):
        name, _, number = (word.strip() for word in part.partition("="))
        if name not in fields:
            raise argparse.ArgumentTypeError(f"{part.strip()!r}: write {'=,'.join(fields)}= with numbers")
        if fields[name] in numbers:
            raise argparse.ArgumentTypeError(f"{name} stands here twice")
        try:
            numbers[fields[name]] = float(number)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{name}={number}: {number!r} is not a number") from None
    return numbers
