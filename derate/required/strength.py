"""Electric strength needed of one insulation [V peak]: rms, peak and dc are never mixed up.

62368-1 tests with a peak or a dc voltage, 60335-1 with an rms one, 60664-1 follows from the temporary overvoltage.
Everything is held as a peak; the words name the rms value that belongs to it.
"""

from __future__ import annotations

from fractions import Fraction

from derate.required.distances import ROOT_TWO, temporary_overvoltage, volts
from derate.required.exact import exact
from derate.required.family import BASIC_STANDARD, HOUSEHOLD, IT_EQUIPMENT, Family
from derate.required.lookup import Found, NoRow, read


def needed_strength(
    family: Family, mains: Fraction, impulse: Fraction, peak: Fraction, rms: Fraction, insulation: str
) -> Found:
    """Test voltage needed [V peak] for one minute, as a type test.

    mains: nominal to neutral [V rms]; impulse: to be held [V peak]; peak, rms: working voltage [V]
    """
    column = "reinforced" if insulation == "reinforced" else "basic"
    if family.name == IT_EQUIPMENT:
        by_impulse = read(family.table("strength_by_impulse"), impulse, insulation=column)
        by_mains = read(family.table("strength_by_mains"), mains, insulation=column)
        factor = Fraction(8, 5) if column == "reinforced" else Fraction(13, 10)
        by_working = Found(peak * factor, "remembered", f"{float(factor):g} x {volts(peak)} = {volts(peak * factor)}")
        words = (
            f"largest of {volts(by_impulse.value)} by transient, {volts(by_working.value)} by working voltage "
            f"({by_working.words}) and {volts(by_mains.value)} by temporary overvoltage"
        )
        largest = max((by_impulse, by_mains, by_working), key=lambda one: one.value)
        return Found(largest.value, largest.confidence, words)
    if family.name == BASIC_STANDARD:
        temporary = temporary_overvoltage(family, mains)
        factor = Fraction(2) if column == "reinforced" else Fraction(1)
        value = temporary.value * factor
        words = f"{float(factor):g} x temporary overvoltage {volts(temporary.value)} = {volts(value)}"
        return Found(value, "one source", words)
    if family.name == HOUSEHOLD:
        if rms > 250:
            factor, added = (Fraction(12, 5), 2400) if column == "reinforced" else (Fraction(6, 5), 950)
            value = factor * rms + added
            found = Found(value, "remembered", f"{float(factor):g} x {volts(rms)} + {added} V")
        else:
            found = read(family.table("strength"), mains, insulation=column)
        words = f"{found.words} = {volts(found.value)} rms = {volts(found.value * ROOT_TWO)} peak"
        return Found(found.value * ROOT_TWO, found.confidence, words)
    raise NoRow(f"nothing was read on electric strength in {family.name}")


def strength_above_30_khz(peak: Fraction, breakdown_share: Fraction, reinforced: bool) -> Fraction:
    """62368-1: test of solid insulation that works above 30 kHz [V peak, whole volts up]: 1.2 x (2) x V / K_R.

    peak: recurring working voltage [V]; breakdown_share: K_R of the material at the frequency, 0 to 1 [-]
    Source: four reports to IEC 62368-1:2018, clause 5.4.4.9 (4010 V for 568 V and 0.34).
    """
    if not 0 < breakdown_share <= 1:
        raise ValueError(f"K_R is {float(breakdown_share):g}: state a value above 0, at most 1")
    value = Fraction(6, 5) * (2 if reinforced else 1) * peak / breakdown_share
    return Fraction(-int(-value // 1))


def older_strength(family: Family, peak: Fraction, insulation: str) -> Found:
    """60950-1: test voltage [V rms] by peak working voltage [V] up to 1410 V.

    Basic above 354 V: 155.86 / 1.6 x U^0.4638 (the printed values of Table 5C within 1 V). Reinforced there: 3000 V.
    """
    column = "reinforced" if insulation == "reinforced" else "basic"
    if peak <= 354:
        return read(family.table("older_strength"), peak, insulation=column)
    if peak > 1410:
        raise NoRow("nothing was read beyond 1410 V peak")
    if column == "reinforced":
        return Found(Fraction(3000), "published", "3000 V above 354 V peak")
    value = exact(round(155.86 / 1.6 * float(peak) ** 0.4638, 3))
    return Found(value, "one source", f"155.86 / 1.6 x {float(peak):g}^0.4638")


def as_peak(voltage: float, statistic: str) -> float | None:
    """A test voltage as a peak [V]: rms times 1.414; dc and peak as they are; None when it does not say what it is."""
    if statistic == "rms":
        return voltage * 2**0.5
    return voltage if statistic in ("dc", "peak") else None
