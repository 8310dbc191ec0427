"""A picture file into pixels: what may be read, how large, and what its metadata says."""

from __future__ import annotations

import math
import struct
import warnings
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import PictureError

Pixels = NDArray[np.uint8]

#: Pictures of more pixels than this are refused before they are decoded: a sheet of A3 at 600 dpi has 70 million.
MOST_PIXELS = 100_000_000
#: Larger ones are shrunk to at most this many pixels: enough for A3 at 400 dpi.
MOST_KEPT = 40_000_000
#: A resolution below this, dots an inch, is a screen's and no scanner's (common practice, no source).
LEAST_DPI = 100.0
MOST_DPI = 4800.0
#: Source: Exif 2.32, section 4.6.3: pointer to the camera's own tags; 4.6.5: exposure time, f-number, focal length.
_EXIF, _CAMERA = 0x8769, (0x829A, 0x829D, 0x920A)

_FORMATS = "save it as PNG, TIFF or JPEG (a phone's HEIC and a scanner's PDF too) and try again"


@dataclass(frozen=True, eq=False)
class Picture:
    """What a camera or a scanner saw.

    file: its name, for messages; pixels: (rows, columns, 3), red, green, blue, row 0 on top; dpi: dots an
    inch (across, down) as its metadata has them, None without; camera: whether it says that a camera took it;
    shrunk: how many pixels of the file a side of one kept pixel covers, 1 where none was lost.
    """

    file: str
    pixels: Pixels
    dpi: tuple[float, float] | None = None
    camera: bool = False
    shrunk: int = 1


def read_picture(path: Path) -> Picture:
    """Return the picture in the file at `path`, upright as its metadata says. Raises PictureError."""
    from PIL import Image, UnidentifiedImageError

    name = str(path)
    try:
        with warnings.catch_warnings():
            # The decoder's own limit lies below ours.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            warnings.simplefilter("ignore", UserWarning)  # Broken metadata of a sound picture.
            with Image.open(path) as image:
                if image.width * image.height > MOST_PIXELS:
                    raise _too_large(name, f"it has {image.width * image.height / 1e6:.0f} million pixels")
                return _decoded(image, name)
    except Image.DecompressionBombError:
        raise _too_large(name, f"it has far more than {MOST_PIXELS / 1e6:.0f} million pixels") from None
    except FileNotFoundError:
        raise PictureError(name, "no such file", "give the path of a scan or a photograph") from None
    except IsADirectoryError:
        raise PictureError(name, "this is a folder", "give the path of a scan or a photograph") from None
    except UnidentifiedImageError:
        raise PictureError(name, "this is not a picture that can be read", _FORMATS) from None
    except PermissionError:
        raise PictureError(name, "it may not be read", "change its permissions, or copy it") from None
    except (OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error) as fault:
        if isinstance(fault, PictureError):
            raise
        reason = "it ends before its last row" if "truncated" in str(fault) else "it is damaged"
        remedy = "copy it again from the scanner or camera"
        raise PictureError(name, f"{reason} and cannot be decoded", remedy) from None


def _too_large(name: str, what: str) -> PictureError:
    most = MOST_PIXELS / 1e6
    return PictureError(
        name, f"{what}; allowed: at most {most:.0f} million", "scan at 300 dpi, or crop it to the part, and try again"
    )


def _decoded(image: Any, name: str) -> Picture:
    from PIL import ImageOps

    wide, high = image.size
    factor = math.ceil(math.sqrt(wide * high / MOST_KEPT))
    exif = image.getexif()
    camera = any(tag in exif.get_ifd(_EXIF) for tag in _CAMERA)
    dpi = _dpi(image.info.get("dpi"))
    if factor > 1:
        # A JPEG is shrunk while it is decoded, so that the whole of it is never in memory.
        image.draft("RGB", (wide // factor, high // factor))
    upright = ImageOps.exif_transpose(image)
    if dpi and exif.get(0x0112, 1) in (5, 6, 7, 8):  # Orientations on their side: Exif 2.32, section 4.6.4.
        dpi = dpi[1], dpi[0]
    rgb = _rgb(upright)
    left = math.ceil(max(rgb.size) / (max(wide, high) / factor) - 1e-3)
    if left > 1:
        rgb = rgb.reduce(left)
    if dpi:
        share = max(rgb.size) / max(wide, high)
        dpi = dpi[0] * share, dpi[1] * share
    return Picture(name, np.asarray(rgb), dpi, camera, factor)


def _rgb(image: Any) -> Any:
    from PIL import Image

    if image.mode.startswith(("I", "F")):
        levels = np.asarray(image, dtype=np.float64)
        top = 65535.0 if levels.max() > 255.0 else 255.0
        image = Image.fromarray(np.clip(levels * (255.0 / top), 0, 255).astype(np.uint8))
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        seen = image.convert("RGBA")
        # What is transparent shows the white of paper.
        return Image.alpha_composite(Image.new("RGBA", seen.size, "white"), seen).convert("RGB")
    return image.convert("RGB")


def _dpi(found: object) -> tuple[float, float] | None:
    """Return a resolution of the metadata, dots an inch, None where it cannot be a scanner's."""
    try:
        across, down = (float(value) for value in found)  # type: ignore[attr-defined]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return (across, down) if all(LEAST_DPI <= value <= MOST_DPI for value in (across, down)) else None
