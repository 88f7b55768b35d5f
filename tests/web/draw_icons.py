"""The app's icons, drawn by hand: a tide line against a fixed rim. `python -m tests.web.draw_icons` writes them."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ICONS = Path(__file__).resolve().parents[2] / "web" / "phone" / "icons"
PAPER, INK, TEAL = (251, 249, 244), (18, 37, 44), (11, 96, 105)
GRAIN = 4  # samples a pixel has on each side

Picture = NDArray[np.uint8]


def picture(size: int, inset: float, round_corners: bool) -> Picture:
    """An RGBA square. `inset` is the share of the side left free around the vessel."""
    at = (np.arange(size * GRAIN) + 0.5) / (size * GRAIN)
    x, y = np.meshgrid(at, at)
    u, v = (x - inset) / (1 - 2 * inset), (y - inset) / (1 - 2 * inset)

    def vessel(grow: float) -> NDArray[np.bool_]:
        left, right, bottom, corner = 0.12 - grow, 0.88 + grow, 0.92 + grow, 0.24 + grow
        inside = (u > left) & (u < right) & (v < bottom) & (v > 0.06)
        dx = np.maximum(np.maximum(left + corner - u, u - (right - corner)), 0)
        dy = np.maximum(v - (bottom - corner), 0)
        return inside & (dx**2 + dy**2 < corner**2)

    rim = vessel(0) & ~(vessel(-0.09) | ((v < 0.1) & (u > 0.21) & (u < 0.79)))
    water = vessel(-0.13) & (v > 0.46 + 0.035 * np.sin(u * 6 * np.pi))
    colour = np.empty((*u.shape, 3))
    colour[:] = PAPER
    colour[water] = TEAL
    colour[rim] = INK
    alpha = np.full(u.shape, 255.0)
    if round_corners:
        far = np.maximum(np.abs(x - 0.5) - 0.28, 0) ** 2 + np.maximum(np.abs(y - 0.5) - 0.28, 0) ** 2
        alpha[far > 0.22**2] = 0
    whole = np.dstack([colour, alpha]).reshape(size, GRAIN, size, GRAIN, 4).mean(axis=(1, 3))
    # Few shades are enough for two edges, and keep the files small.
    return (np.round(whole / 15) * 15).astype(np.uint8)


def png(pixels: Picture) -> bytes:
    """Of few shades: a list of them, and for each pixel its place in the list."""
    height, width, _ = pixels.shape
    # Four bytes read as one number, the first counting most, are in the order of the rows and quick to sort.
    packed, at = np.unique(np.ascontiguousarray(pixels).reshape(-1, 4).view(">u4").ravel(), return_inverse=True)
    shades = packed.astype(">u4").view(np.uint8).reshape(-1, 4)
    rows = b"".join(b"\0" + row.tobytes() for row in at.reshape(height, width).astype(np.uint8))

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    chunks = [(b"IHDR", head), (b"PLTE", shades[:, :3].tobytes()), (b"tRNS", shades[:, 3].tobytes())]
    chunks += [(b"IDAT", zlib.compress(rows, 9)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(*one) for one in chunks)


def pixels_of(data: bytes) -> bytes:
    """The raw rows of a picture made by `png`."""
    start = data.index(b"IDAT") + 4
    (length,) = struct.unpack(">I", data[start - 8 : start - 4])
    return zlib.decompress(data[start : start + length])


ALL = {
    "icon-192.png": (192, 0.16, True),
    "icon-512.png": (512, 0.16, True),
    "maskable-512.png": (512, 0.26, False),
    "apple-touch-icon.png": (180, 0.18, False),
}

if __name__ == "__main__":
    ICONS.mkdir(exist_ok=True)
    for name, how in ALL.items():
        (ICONS / name).write_bytes(png(picture(*how)))
