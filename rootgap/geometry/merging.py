"""Where the legs of a merge stand: equal round legs that lean on one axis and meet at its *apex*."""

from __future__ import annotations

import numpy as np

from rootgap.geometry.frames import Frame, unit, vector


def leg_frame(apex: Frame, count: int, half_angle: float, number: int, length: float) -> Frame:
    """Return the frame, mm, on the axis of leg `number`, from 0, `length` mm before the apex; clock 0 looks
    away from the collector's axis. half_angle: degrees; the first leg lies towards the apex's ref.
    """
    outward = apex.radial(2.0 * np.pi * number / count)
    sin, cos = np.sin(np.radians(half_angle)), np.cos(np.radians(half_angle))
    axis = unit(cos * apex.axis - sin * outward)
    return Frame(vector(apex.origin - length * axis), axis, unit(cos * outward + sin * apex.axis))


def outlet_station(diameter: float, r_out: float, half_angle: float) -> float:
    """Return the station, mm, on the collector's axis, below nought before the apex, at which legs of `r_out`
    mm just lie within `diameter`, mm. half_angle: degrees.

    Source: plane geometry: there a leg's section is an ellipse r / cos a long, its middle as far out as it is back.
    """
    sin, cos = float(np.sin(np.radians(half_angle))), float(np.cos(np.radians(half_angle)))
    return -(0.5 * diameter - r_out / cos) * cos / sin
