#!/usr/bin/env python3
"""Fetches the pictures that Pillow's own tests read, sound and broken, and says what a reader must find in them.

    python foreign_corpus.py FOLDER

needs numpy, tifffile, imagecodecs and Pillow from PyPI. The source archive of the same Pillow is fetched from PyPI into
FOLDER/cache, once. Its pictures lie in FOLDER/images afterwards. The test `foreign` reads FOLDER when the environment
variable CLOSEWORK_FOREIGN names it.

FOLDER/manifest.json has an entry for each file:

    {"name", "kind": "tiff" | "png" | "jpeg" | "other"}                  no reference: an error of the reader's is in "why"
    {..., "width", "height", "channels", "tolerance", "by", "expected"}  samples over full scale as shown, pixel by pixel,
                                                                         float32 little-endian, in FOLDER/expected

8-bit pictures are Pillow's own reading; others are read by tifffile and imagecodecs, because Pillow reads 16-bit colour
with 8 bits.
"""

import hashlib
import json
import os
import pathlib
import resource
import signal
import sys
import tarfile
import urllib.parse
import urllib.request
import warnings

import imagecodecs
import numpy as np
import PIL
import tifffile
from PIL import Image, ImageOps

# A lossy picture is decoded differently in the last digits, and more so where colour is stored coarsely.
JPEG_TOLERANCE = 4 / 255
SUBSAMPLED_TOLERANCE = 24 / 255
EXACT = 1e-6
SECONDS = 8
MEMORY = 4 << 30
MOST_PIXELS = 8_000_000


def archive(cache):
    """Pillow's source archive, whose sum PyPI states."""
    cache.mkdir(parents=True, exist_ok=True)
    place = cache / f"pillow-{PIL.__version__}.tar.gz"
    # The simple index (PEP 691) is what pip itself goes by; mirrors have it where they lack other interfaces.
    index = "https://pypi.org/simple/pillow/"
    if not place.exists():
        asked = urllib.request.Request(index, headers={"Accept": "application/vnd.pypi.simple.v1+json"})
        files = json.load(urllib.request.urlopen(asked, timeout=60))["files"]
        [source] = [f for f in files if f["filename"] == place.name]
        data = urllib.request.urlopen(urllib.parse.urljoin(index, source["url"]), timeout=300).read()
        assert hashlib.sha256(data).hexdigest() == source["hashes"]["sha256"], "the archive is damaged"
        place.write_bytes(data)
    return place


def unpack(place, images):
    """The folder Tests/images, flat: the names of sub-folders are put before the files'."""
    images.mkdir(parents=True, exist_ok=True)
    with tarfile.open(place) as tar:
        for member in tar:
            _, mark, name = member.name.partition("/Tests/images/")
            if mark and member.isfile():
                (images / name.replace("/", "~")).write_bytes(tar.extractfile(member).read())


def kind_of(path):
    start = path.read_bytes()[:8]
    if start[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "tiff"
    if start == b"\x89PNG\r\n\x1a\n":
        return "png"
    return "jpeg" if start[:3] == b"\xff\xd8\xff" else "other"


def by_pillow(path):
    image = Image.open(path)
    assert image.width * image.height <= MOST_PIXELS, "too large to be compared"
    image.load()
    shown = ImageOps.exif_transpose(image)
    if shown.mode in ("P", "PA"):
        shown = shown.convert("RGB")
    if shown.mode == "1":
        shown = shown.convert("L")
    assert shown.mode in ("L", "LA", "RGB", "RGBA", "RGBX"), f"mode {shown.mode}"
    values = np.atleast_3d(np.asarray(shown)) / 255
    return values[..., : 1 if shown.mode in ("L", "LA") else 3], "Pillow"


def tiff_page(path):
    with tifffile.TiffFile(path) as file:
        full = [p for p in file.pages if not p.is_reduced and not p.is_mask]
        page = full[0] if full else file.pages[0]
        tags = {t.name: t.value for t in page.tags.values()}
        return page, tags, page.asarray()


def turned(values, orientation):
    """TIFF 6.0, page 36."""
    values = values.transpose(1, 0, 2) if orientation in (5, 7) else values
    return {2: np.fliplr, 3: lambda v: np.rot90(v, 2), 4: np.flipud, 6: lambda v: np.rot90(v, -1), 7: lambda v: np.rot90(v, 2), 8: lambda v: np.rot90(v, 1)}.get(orientation, lambda v: v)(values)


def by_tifffile(path):
    page, tags, values = tiff_page(path)
    assert values.size <= 4 * MOST_PIXELS, "too large to be compared"
    name = page.photometric.name
    assert name in ("MINISWHITE", "MINISBLACK", "RGB", "PALETTE", "YCBCR"), f"photometric {name}"
    if page.planarconfig == 2 and values.ndim == 3:
        values = np.moveaxis(values, 0, -1)
    if name == "PALETTE":
        values = np.moveaxis(page.colormap[:, values], 0, -1)
    values = np.atleast_3d(values)
    top = 1 if values.dtype.kind in "fb" else 2 ** (16 if name == "PALETTE" else page.bitspersample) - 1
    values = np.nan_to_num(values.astype("float64") / top, nan=0.0).clip(0, 1)
    if name == "MINISWHITE":
        values = 1 - values
    values = values[..., : 1 if name.startswith("MINIS") else 3]
    return turned(values, int(tags.get("Orientation", 1))), "tifffile"


def by_imagecodecs(path):
    values = np.atleast_3d(imagecodecs.png_decode(path.read_bytes()))
    assert values.dtype == "uint16"
    return values[..., : 1 if values.shape[-1] < 3 else 3] / 65535, "imagecodecs"


def reference(path, kind):
    """Values, who read them, and the tolerance."""
    readers = {"tiff": (by_tifffile, by_pillow), "png": (by_pillow,), "jpeg": (by_pillow,)}[kind]
    lossy = kind == "jpeg"
    if kind == "tiff":
        with tifffile.TiffFile(path) as file:
            full = [p for p in file.pages if not p.is_reduced and not p.is_mask]
            page = full[0] if full else file.pages[0]
            lossy = page.compression.name.startswith(("JPEG", "OLD_JPEG"))
            # Pillow takes apart colours that were multiplied by their transparency; here they stay as stored.
            associated = 1 in (page.tags["ExtraSamples"].value if "ExtraSamples" in page.tags else ())
            if page.bitspersample == 8 and page.dtype is not None and page.dtype.kind == "u" and not associated and page.photometric.name != "PALETTE":
                readers = (by_pillow, by_tifffile)
    if kind == "png" and path.read_bytes()[24] == 16:
        readers = (by_imagecodecs,)
    errors = []
    for reader in readers:
        try:
            values, by = reader(path)
            return values, by, SUBSAMPLED_TOLERANCE if lossy and values.shape[-1] == 3 else JPEG_TOLERANCE if lossy else EXACT
        except Exception as error:
            errors.append(f"{reader.__name__}: {type(error).__name__}: {error}")
    raise ValueError("; ".join(errors))


def looked_at(path, folder):
    """The entry of a file, found out by a process of its own: some of these files are made to bring readers down."""
    entry = {"name": path.name, "kind": kind_of(path)}
    if entry["kind"] == "other":
        return entry
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        signal.alarm(SECONDS)
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        # What the readers' C libraries complain of.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        try:
            values, by, tolerance = reference(path, entry["kind"])
            height, width, channels = values.shape
            expected = path.name + ".f32"
            np.ascontiguousarray(values, dtype="<f4").tofile(folder / "expected" / expected)
            found = {"width": width, "height": height, "channels": channels, "tolerance": tolerance, "by": by, "expected": expected}
        except BaseException as error:
            found = {"why": str(error)[:300]}
        os.write(write, json.dumps(found).encode())
        os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        text = pipe.read()
    os.waitpid(child, 0)
    return entry | (json.loads(text) if text else {"why": f"no reader was done in {SECONDS} s"})


def main():
    warnings.simplefilter("ignore")
    Image.MAX_IMAGE_PIXELS = None
    folder = pathlib.Path(sys.argv[1])
    unpack(archive(folder / "cache"), folder / "images")
    (folder / "expected").mkdir(exist_ok=True)
    entries = [looked_at(path, folder) for path in sorted((folder / "images").iterdir())]
    (folder / "manifest.json").write_text(json.dumps(entries, indent=1))
    print(len(entries), "foreign files,", sum("expected" in e for e in entries), "with a reference")


if __name__ == "__main__":
    main()
