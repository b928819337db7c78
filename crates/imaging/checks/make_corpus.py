#!/usr/bin/env python3
"""Writes scan files with other people's programs, and what a reader must find in them.

    python make_corpus.py FOLDER

needs numpy, tifffile, imagecodecs and Pillow from PyPI, and uses vips when it is installed. The test
`corpus` reads FOLDER when the environment variable CLOSEWORK_CORPUS names it.

FOLDER/manifest.tsv has a line for each file:

    encoded  file  width height channels  tolerance  expected   samples as shown, uint16 little-endian, pixel by pixel;
                                                                the tolerance is in steps of the file's own depth
    shares   file  width height channels  tolerance  expected   samples over full scale, float32 little-endian
    linear   file  width height channels  tolerance  expected   linear light, float32 little-endian
    refused  file  words                                        must be refused with these words in the message
"""

import pathlib
import shutil
import subprocess
import sys

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

WIDTH, HEIGHT = 45, 37  # odd, and no multiple of any strip or tile below
ADOBE_LIKE = [0.64, 0.33, 1.0, 0.21, 0.71, 1.0, 0.15, 0.06, 1.0]
SRGB_PRIMARIES = [0.64, 0.33, 1.0, 0.30, 0.60, 1.0, 0.15, 0.06, 1.0]
D65 = [0.3127, 0.3290, 1.0]


class Corpus:
    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)
        self.lines = []

    def path(self, name):
        return self.folder / name

    def _sized(self, kind, name, values, tolerance, dtype):
        values = np.atleast_3d(values)
        height, width, channels = values.shape
        expected = name + ".expected"
        np.ascontiguousarray(values, dtype=dtype).tofile(self.path(expected))
        self.lines.append(f"{kind}\t{name}\t{width}\t{height}\t{channels}\t{tolerance}\t{expected}")

    def encoded(self, name, values, tolerance=0):
        self._sized("encoded", name, values, tolerance, "<u2")

    def shares(self, name, values, tolerance):
        self._sized("shares", name, values, tolerance, "<f4")

    def linear(self, name, values, tolerance):
        self._sized("linear", name, values, tolerance, "<f4")

    def refused(self, name, words):
        self.lines.append(f"refused\t{name}\t{words}")

    def finish(self):
        self.path("manifest.tsv").write_text("\n".join(self.lines) + "\n")


def picture(bits, channels, seed=1):
    """Slopes with some noise, and both ends of the range."""
    rng = np.random.default_rng(seed)
    top = 2**bits - 1
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    planes = [(x * (c + 1) + y * 2) / (WIDTH * (c + 1) + HEIGHT * 2) * top for c in range(channels)]
    values = np.stack(planes, axis=-1) + rng.normal(0, top / 60, (HEIGHT, WIDTH, channels))
    values = np.clip(np.rint(values), 0, top).astype("uint8" if bits == 8 else "uint16")
    values[0, 0], values[-1, -1] = 0, top
    return values


def smooth(bits, channels):
    """Without noise, for lossy files."""
    top = 2**bits - 1
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    planes = [(0.2 + 0.6 * (x * (c + 1) + 2 * y) / (WIDTH * (c + 1) + 2 * HEIGHT)) * top for c in range(channels)]
    return np.rint(np.stack(planes, axis=-1)).astype("uint8" if bits == 8 else "uint16")


def squeezed(values):
    return values[..., 0] if values.shape[-1] == 1 else values


def tiff_variants(corpus):
    layouts = {
        "one-strip": {},
        "strips": {"rowsperstrip": 7},
        "tiles": {"tile": (16, 32)},
        "planar": {"planarconfig": "separate", "rowsperstrip": 5},
        "planar-tiles": {"planarconfig": "separate", "tile": (32, 16)},
    }
    compressions = {"none": None, "lzw": "lzw", "deflate": "zlib", "adobe": "adobe_deflate", "packbits": "packbits"}
    for bits in (8, 16):
        for channels in (1, 3):
            values = picture(bits, channels)
            for layout, layout_options in layouts.items():
                if channels == 1 and layout.startswith("planar"):
                    continue
                for compression, method in compressions.items():
                    for predictor in (False, True) if compression in ("lzw", "deflate") else (False,):
                        for order in ("<", ">"):
                            tag = f"{bits}-{channels}-{layout}-{compression}-{'p' if predictor else 'n'}-{'le' if order == '<' else 'be'}.tif"
                            write_tiff(corpus, tag, values, order, compression=method, predictor=predictor, **layout_options)


def write_tiff(corpus, name, values, order="<", expected=None, tolerance=0, bigtiff=False, **options):
    channels = values.shape[-1]
    photometric = options.pop("photometric", "rgb" if channels >= 3 else "minisblack")
    data = squeezed(values)
    if options.get("planarconfig") == "separate":
        data = np.ascontiguousarray(np.moveaxis(values, -1, 0))
    tifffile.imwrite(
        corpus.path(name), data, photometric=photometric, byteorder=order, bigtiff=bigtiff, metadata=None, **options
    )
    if expected is not False:
        corpus.encoded(name, values if expected is None else expected, tolerance)


def tiff_specials(corpus):
    for bits in (8, 16):
        top = 2**bits - 1
        grey, rgb = picture(bits, 1), picture(bits, 3)
        write_tiff(corpus, f"big-{bits}.tif", rgb, bigtiff=True, tile=(16, 16), compression="zlib", predictor=True)
        write_tiff(corpus, f"big-be-{bits}.tif", rgb, ">", bigtiff=True, rowsperstrip=4)
        write_tiff(corpus, f"white-is-zero-{bits}.tif", grey, photometric="miniswhite", expected=top - grey)
        alpha = np.concatenate([rgb, picture(bits, 1, 9)], axis=-1)
        write_tiff(corpus, f"alpha-{bits}.tif", alpha, extrasamples=["unassalpha"], expected=rgb)
        write_tiff(corpus, f"infrared-{bits}.tif", alpha, extrasamples=["unspecified"], planarconfig="separate", expected=rgb)
        five = np.concatenate([alpha, picture(bits, 1, 11)], axis=-1)
        write_tiff(corpus, f"five-{bits}.tif", five, extrasamples=["unspecified"] * 2, compression="lzw", predictor=True, expected=rgb)
        for orientation in range(1, 9):
            turned = shown(rgb, orientation)
            tag = [(274, "H", 1, orientation, True)]
            for kind, options in {"s": {"rowsperstrip": 6}, "t": {"tile": (16, 16)}}.items():
                write_tiff(corpus, f"turned-{orientation}-{kind}-{bits}.tif", rgb, extratags=tag, expected=turned, **options)
    ycc = smooth(8, 3)
    for name, options in {"strips": {"rowsperstrip": 16}, "tiles": {"tile": (32, 32)}}.items():
        # The writer turns plain RGB into luma and colour difference here.
        write_tiff(corpus, f"jpeg-{name}.tif", ycc, compression="jpeg", compressionargs={"level": 98}, subsampling=(1, 1), expected=False, **options)
        corpus.encoded(f"jpeg-{name}.tif", np.asarray(Image.open(corpus.path(f"jpeg-{name}.tif"))), 3)
    Image.fromarray(ycc).save(corpus.path("jpeg-pillow.tif"), compression="jpeg", quality=95)
    corpus.encoded("jpeg-pillow.tif", np.asarray(Image.open(corpus.path("jpeg-pillow.tif"))), 6)
    grey = smooth(8, 1)
    write_tiff(corpus, "jpeg-grey.tif", grey, compression="jpeg", compressionargs={"level": 98}, expected=grey, tolerance=3)
    with tifffile.TiffWriter(corpus.path("thumbnail-first.tif")) as writer:
        writer.write(picture(8, 3)[:9, :11], photometric="rgb", subfiletype=1, metadata=None)
        writer.write(picture(16, 3), photometric="rgb", metadata=None)
    corpus.encoded("thumbnail-first.tif", picture(16, 3))
    with tifffile.TiffWriter(corpus.path("two.tif")) as writer:
        writer.write(picture(16, 3), photometric="rgb", metadata=None)
        writer.write(picture(8, 1)[..., 0], photometric="minisblack", metadata=None)
    corpus.encoded("two.tif", picture(16, 3))


def shown(values, orientation):
    """TIFF 6.0, page 36: where stored row 0 and column 0 belong."""
    return {
        1: lambda v: v,
        2: np.fliplr,
        3: lambda v: np.rot90(v, 2),
        4: np.flipud,
        5: lambda v: v.transpose(1, 0, 2),
        6: lambda v: np.rot90(v, -1),
        7: lambda v: np.rot90(v.transpose(1, 0, 2), 2),
        8: lambda v: np.rot90(v, 1),
    }[orientation](values)


def tiff_refusals(corpus):
    four = picture(8, 4)
    write_tiff(corpus, "cmyk.tif", four, photometric="separated", expected=False)
    corpus.refused("cmyk.tif", "CMYK")
    write_tiff(corpus, "lab.tif", picture(8, 3), photometric="cielab", expected=False)
    corpus.refused("lab.tif", "Lab")
    write_tiff(corpus, "signed.tif", picture(8, 1).astype("int16"), expected=False)
    corpus.refused("signed.tif", "signed")
    write_tiff(corpus, "signed-32.tif", picture(8, 1).astype("int32"), expected=False)
    corpus.refused("signed-32.tif", "signed")
    for method, words in {"lzma": "LZMA", "webp": "WebP", "jpegxl": "JPEG XL", "jpeg2000": "JPEG 2000"}.items():
        try:
            write_tiff(corpus, f"{method}.tif", picture(8, 3), compression=method, expected=False)
        except Exception as error:  # the codec was left out of this build
            print("without", method, error)
            continue
        if method == "jpeg2000":
            words = "compressed by"
        corpus.refused(f"{method}.tif", words)


def floats(bits, channels):
    """Floating point with both ends and values outside them."""
    values = picture(16, channels).astype("float64") / 65535
    values[3, 5], values[4, 6], values[5, 7] = -0.25, 1.5, np.nan
    return values.astype(f"float{bits}")


def tiff_depths(corpus):
    """Other depths than 8 and 16 bits; what is expected is clipped to 0 ..= 1."""
    for bits in (16, 32, 64):
        for channels in (1, 3):
            values = floats(bits, channels)
            expected = np.nan_to_num(values.astype("float64"), nan=0.0).clip(0, 1)
            for layout, options in {
                "strips": {"rowsperstrip": 7},
                "tiles": {"tile": (16, 32)},
                "planar": {"planarconfig": "separate", "rowsperstrip": 5},
            }.items():
                if channels == 1 and layout == "planar":
                    continue
                for method, predictor in ((None, False), ("zlib", False), ("zlib", True), ("zstd", True), ("lzw", True)):
                    for order in ("<", ">"):
                        name = f"float-{bits}-{channels}-{layout}-{method}-{'p' if predictor else 'n'}-{'le' if order == '<' else 'be'}.tif"
                        # tifffile takes True for the floating-point predictor here.
                        write_tiff(corpus, name, values, order, compression=method, predictor=predictor, expected=False, **options)
                        corpus.shares(name, expected, 1e-7)
    wide = picture(16, 3).astype("uint32") * 65537
    for name, options in {"none": {}, "lzw": {"compression": "lzw", "predictor": True}, "zstd": {"compression": "zstd"}}.items():
        write_tiff(corpus, f"whole-32-{name}.tif", wide, ">", expected=False, **options)
        corpus.shares(f"whole-32-{name}.tif", wide / (2**32 - 1), 1e-7)
    for bits in (8, 16):
        write_tiff(corpus, f"zstd-{bits}.tif", picture(bits, 3), compression="zstd", predictor=True, rowsperstrip=9)
        write_tiff(corpus, f"white-is-zero-float-{bits}.tif", picture(bits, 1).astype("float32") / (2**bits - 1), photometric="miniswhite", expected=False)
        corpus.shares(f"white-is-zero-float-{bits}.tif", 1 - picture(bits, 1) / (2**bits - 1), 1e-7)
    write_tiff(corpus, "bilevel.tif", picture(8, 1) > 100, expected=False)
    corpus.shares("bilevel.tif", (picture(8, 1) > 100).astype(float), 0)
    write_tiff(corpus, "bilevel-white-is-zero.tif", picture(8, 1) > 100, photometric="miniswhite", compression="packbits", expected=False)
    corpus.shares("bilevel-white-is-zero.tif", (picture(8, 1) <= 100).astype(float), 0)
    for bits in (2, 4, 10, 12, 14):
        values = picture(16, 3) >> (16 - bits)
        name = f"bits-{bits}.tif"
        write_tiff(corpus, name, values.astype("uint8" if bits < 8 else "uint16"), bitspersample=bits, expected=False)
        corpus.shares(name, values / (2**bits - 1), 1e-7)
    table = ((np.arange(256 * 3).reshape(3, 256) * 85) % 65536).astype("uint16")
    indexed = picture(8, 1)
    write_tiff(corpus, "palette.tif", indexed, photometric="palette", colormap=table, expected=False)
    corpus.shares("palette.tif", np.moveaxis(table[:, indexed[..., 0]], 0, -1) / 65535, 1e-7)
    linear_dng(corpus)


def linear_dng(corpus):
    """A thumbnail, and below it linear sensor values with their levels and matrix, after the DNG specification 1.7.1."""
    values = picture(16, 3)
    with tifffile.TiffWriter(corpus.path("linear.dng")) as writer:
        rational = lambda *v: [n for x in v for n in (int(round(x * 10000)), 10000)]
        matrix = (0.7, -0.2, -0.05, -0.4, 1.2, 0.2, -0.05, 0.2, 0.5)
        writer.write(
            picture(8, 3)[:9, :11], photometric="rgb", subfiletype=1, metadata=None, subifds=1,
            extratags=[(50706, "B", 4, (1, 4, 0, 0), True), (50721, "2i", 9, rational(*matrix), True), (50728, "2I", 3, rational(0.5, 1.0, 0.6), True)],
        )
        writer.write(
            values, photometric=34892, subfiletype=0, metadata=None, compression="zlib", predictor=True,
            extratags=[(50714, "H", 3, (500, 600, 700), True), (50717, "H", 3, (60000, 61000, 62000), True)],
        )
    black, white = np.array([500, 600, 700]), np.array([60000, 61000, 62000])
    corpus.shares("linear.dng", ((values - black.astype(float)) / (white - black)).clip(0, 1), 1e-6)
    write_tiff(corpus, "mosaic.dng", picture(16, 1), photometric="cfa", expected=False, extratags=[(50706, "B", 4, (1, 4, 0, 0), True), (33421, "H", 2, (2, 2), True), (33422, "B", 4, (0, 1, 1, 2), True)])
    corpus.refused("mosaic.dng", "raw sensor data")


def by_pillow(corpus):
    for bits, mode, channels in ((8, "L", 1), (8, "RGB", 3), (16, "I;16", 1)):
        values = picture(bits, channels)
        image = Image.fromarray(squeezed(values))
        assert image.mode == mode, image.mode
        for compression in ("raw", "tiff_lzw", "tiff_adobe_deflate", "tiff_deflate", "packbits"):
            name = f"pillow-{bits}-{channels}-{compression}.tif"
            image.save(corpus.path(name), compression=compression, dpi=(2400, 2400))
            corpus.encoded(name, values)
        name = f"pillow-{bits}-{channels}.png"
        image.save(corpus.path(name))
        corpus.encoded(name, values)
    rgb, alpha = picture(8, 3), picture(8, 1, 9)
    Image.fromarray(np.concatenate([rgb, alpha], axis=-1)).save(corpus.path("rgba.png"))
    corpus.encoded("rgba.png", rgb)
    Image.merge("LA", [Image.fromarray(rgb[..., 0]), Image.fromarray(alpha[..., 0])]).save(corpus.path("la.png"))
    corpus.encoded("la.png", rgb[..., :1])
    indexed = Image.fromarray(rgb).quantize(200)
    indexed.save(corpus.path("palette.png"))
    corpus.encoded("palette.png", np.asarray(indexed.convert("RGB")))
    small = Image.fromarray(rgb).quantize(4)
    small.save(corpus.path("palette-2bit.png"), bits=2)
    corpus.encoded("palette-2bit.png", np.asarray(small.convert("RGB")))


def pngs(corpus):
    for channels in (3, 4, 2):
        values = picture(16, channels)
        name = f"png-16-{channels}.png"
        corpus.path(name).write_bytes(imagecodecs.png_encode(values))
        corpus.encoded(name, values[..., : 3 if channels > 2 else 1])
    if shutil.which("vips") is None:
        return print("without vips: no interlaced PNG")
    for bits, channels in ((8, 3), (16, 3), (16, 1)):
        values = picture(bits, channels)
        source = corpus.path("vips-source.tif")
        tifffile.imwrite(source, squeezed(values), photometric="rgb" if channels == 3 else "minisblack", metadata=None)
        for name, options in (
            (f"vips-interlaced-{bits}-{channels}.png", "[interlace]"),
            (f"vips-{bits}-{channels}-pyramid.tif", "[tile,pyramid,tile-width=16,tile-height=16,compression=deflate,predictor=horizontal]"),
            (f"vips-{bits}-{channels}-big.tif", "[bigtiff,compression=lzw]"),
        ):
            subprocess.run(["vips", "copy", str(source), f"{corpus.path(name)}{options}"], check=True)
            corpus.encoded(name, values)
        source.unlink()


def jpegs(corpus):
    rgb = smooth(8, 3)
    image = Image.fromarray(rgb)
    for name, options in {
        "444.jpg": {"subsampling": 0},
        "420.jpg": {"subsampling": 2},
        "progressive.jpg": {"subsampling": 0, "progressive": True},
        "optimised.jpg": {"subsampling": 1, "optimize": True},
        "restart.jpg": {"subsampling": 0, "restart_marker_blocks": 2},
    }.items():
        image.save(corpus.path(name), quality=97, **options)
        decoded = np.asarray(Image.open(corpus.path(name)))
        # Decoders may round differently, and smooth differently where colour is stored coarsely.
        corpus.encoded(name, decoded, 3 if options.get("subsampling") == 0 else 6)
    grey = Image.fromarray(rgb[..., 0])
    for name, options in {"rows": {"restart_marker_rows": 1}, "blocks": {"restart_marker_blocks": 4}, "progressive": {"restart_marker_rows": 1, "progressive": True}}.items():
        for channels, picture_ in ((1, grey), (3, image)):
            file = f"restart-{name}-{channels}.jpg"
            picture_.save(corpus.path(file), quality=97, subsampling=0, **options)
            corpus.encoded(file, np.asarray(Image.open(corpus.path(file))), 3)
    grey.save(corpus.path("grey.jpg"), quality=97)
    corpus.encoded("grey.jpg", np.asarray(Image.open(corpus.path("grey.jpg"))), 2)
    for orientation in range(1, 9):
        exif = Image.Exif()
        exif[274] = orientation
        name = f"turned-{orientation}.jpg"
        image.save(corpus.path(name), quality=97, subsampling=0, exif=exif)
        corpus.encoded(name, shown(np.asarray(Image.open(corpus.path(name))), orientation), 3)
    image.convert("CMYK").save(corpus.path("cmyk.jpg"))
    corpus.refused("cmyk.jpg", "CMYK")


def linear_profile(primaries):
    return imagecodecs.cms_profile("rgb", whitepoint=D65, primaries=primaries, gamma=1.0)


def through(values, profile, target):
    """Linear light by Little CMS."""
    return imagecodecs.cms_transform(
        values, profile, target, colorspace="rgb", outcolorspace="rgb", outdtype="float32", intent=1
    )


def profiles(corpus):
    for bits in (8, 16):
        rgb, grey = picture(bits, 3), picture(bits, 1)
        top = 2**bits - 1
        wide = imagecodecs.cms_profile("rgb", whitepoint=D65, primaries=ADOBE_LIKE, gamma=563 / 256)
        # Little CMS works in single precision.
        profiled(corpus, f"icc-wide-{bits}", rgb, wide, through(rgb, wide, linear_profile(ADOBE_LIKE)), 1e-6)
        srgb = imagecodecs.cms_profile("srgb")
        profiled(corpus, f"icc-srgb-{bits}", rgb, srgb, through(rgb, srgb, linear_profile(SRGB_PRIMARIES)), 1e-6)
        sampled, light = sampled_profile(rgb / top)
        profiled(corpus, f"icc-sampled-{bits}", rgb, sampled, light, 1e-6)
        for gamma in (1.0, 1.8, 2.2):
            profile = imagecodecs.cms_profile("gray", gamma=gamma)
            # Stored as a parametric curve of type 0, ICC.1:2022, 10.18: a power, in 65536ths.
            profiled(corpus, f"icc-grey-{gamma}-{bits}", grey, profile, (grey / top) ** gamma, 1e-5)
        table = table_profile()
        light = through(rgb, table, linear_profile(SRGB_PRIMARIES))
        # Interpolation in a coarse table differs between programs (tetrahedra or cubes).
        inner = np.where((rgb == 0) | (rgb == top), rgb / top, np.clip(light, 0, 1))
        profiled(corpus, f"icc-table-{bits}", rgb, table, inner, 6e-3)
    name = "icc-png.png"
    wide = imagecodecs.cms_profile("rgb", whitepoint=D65, primaries=ADOBE_LIKE, gamma=563 / 256)
    rgb = picture(8, 3)
    Image.fromarray(rgb).save(corpus.path(name), icc_profile=wide)
    corpus.linear(name, through(rgb, wide, linear_profile(ADOBE_LIKE)), 1e-6)
    name = "icc-jpeg.jpg"
    Image.fromarray(smooth(8, 3)).save(corpus.path(name), icc_profile=wide, quality=98, subsampling=0)
    decoded = np.asarray(Image.open(corpus.path(name)))
    corpus.linear(name, through(decoded, wide, linear_profile(ADOBE_LIKE)), 0.02)


# Where Debian's package icc-profiles-free puts its profiles; without it they are not tried.
DEBIAN = pathlib.Path("/usr/share/color/icc")


def tag_of(profile, name):
    """A tag's data (ICC.1:2022, 7.3)."""
    count = int.from_bytes(profile[128:132], "big")
    for entry in range(count):
        at = 132 + 12 * entry
        if profile[at : at + 4] == name:
            start, size = (int.from_bytes(profile[at + i : at + i + 4], "big") for i in (4, 8))
            return profile[start : start + size]
    return None


def curve_of(tag):
    """A tone curve as ICC.1:2022, 10.6 and 10.18 define it, read anew here: a function of values from 0 to 1."""
    number = lambda at, size=4: int.from_bytes(tag[at : at + size], "big", signed=size == 4)
    if tag[:4] == b"curv":
        count = number(8)
        if count == 0:
            return lambda x: x
        if count == 1:
            return lambda x: x ** (number(12, 2) / 256)
        table = np.frombuffer(tag, ">u2", count, 12) / 65535
        return lambda x: np.interp(x, np.linspace(0, 1, count), table)
    assert tag[:4] == b"para", tag[:4]
    kind = number(8, 2)
    g, a, b, c, d, e, f = ([number(12 + 4 * i) / 65536 for i in range((1, 3, 4, 5, 7)[kind])] + [0] * 7)[:7]
    if kind == 0:
        return lambda x: x**g
    if kind == 1:
        return lambda x: np.where(x >= -b / a, np.maximum(a * x + b, 0) ** g, 0)
    if kind == 2:
        return lambda x: np.where(x >= -b / a, np.maximum(a * x + b, 0) ** g + c, c)
    # Type 3 has no constants beside its two pieces.
    e, f = (e, f) if kind == 4 else (0, 0)
    return lambda x: np.where(x >= d, np.maximum(a * x + b, 0) ** g + e, c * x + f)


def debian_profiles(corpus):
    """Every profile there that has curves, by its own curves. What does not run from black to white is left to the warnings."""
    for path in sorted(DEBIAN.rglob("*.ic[cm]")):
        profile = path.read_bytes()
        names = {b"RGB ": (b"rTRC", b"gTRC", b"bTRC"), b"GRAY": (b"kTRC",)}.get(profile[16:20], ())
        tags = [tag_of(profile, name) for name in names]
        if not tags or None in tags:
            continue
        curves = [curve_of(tag) for tag in tags]
        steps = [curve(np.linspace(0, 1, 1025)) for curve in curves]
        if any(s[0] > 0.05 or s[-1] < 0.5 or np.diff(s).min() < -2 / 65535 for s in steps):
            continue
        for bits in (8, 16):
            values = picture(bits, len(curves))
            top = 2**bits - 1
            shares = values.reshape(values.shape[0], values.shape[1], -1) / top
            light = np.stack([curve(shares[..., i]) / curve(1.0) for i, curve in enumerate(curves)], axis=-1)
            light = np.where((shares == 0) | (shares == 1), shares, light).reshape(values.shape)
            profiled(corpus, f"debian-{path.parent.name}-{path.stem}-{bits}", values, profile, light, 1e-6)


def profiled(corpus, name, values, profile, light, tolerance):
    file = name + ".tif"
    write_tiff(corpus, file, values, expected=False, iccprofile=profile, rowsperstrip=8)
    corpus.linear(file, np.clip(light, 0, 1), tolerance)


def fixed(value):
    return int(round(value * 65536)).to_bytes(4, "big", signed=True)


def assembled(tags, space=b"RGB ", pcs=b"XYZ "):
    """An ICC version 2 profile from its tags (ICC.1:2001-04, 6.1 and 6.2)."""
    place, table, body = 128 + 4 + 12 * len(tags), b"", b""
    for name, data in tags.items():
        data += bytes(-len(data) % 4)
        table += name + (place + len(body)).to_bytes(4, "big") + len(data).to_bytes(4, "big")
        body += data
    size = place + len(body)
    head = size.to_bytes(4, "big") + bytes(4) + b"\x02\x10\0\0" + b"scnr" + space + pcs
    head += bytes([7, 0xEA, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0]) + b"acsp" + bytes(28) + fixed(0.9642) + fixed(1.0) + fixed(0.8249)
    head += bytes(128 - len(head))
    return head + len(tags).to_bytes(4, "big") + table + body


def described(text):
    text = text.encode() + b"\0"
    return b"desc" + bytes(4) + len(text).to_bytes(4, "big") + text + bytes(4 + 4 + 2 + 1 + 67)


def xyz(x, y, z):
    return b"XYZ " + bytes(4) + fixed(x) + fixed(y) + fixed(z)


def sampled_profile(shares):
    """Curves as tables of 33 entries, another for each colour; and the light by linear interpolation (10.6)."""
    grid = np.linspace(0, 1, 33)
    curves = [np.rint(grid**gamma * 65535) for gamma in (1.7, 2.1, 2.6)]
    body = lambda c: b"curv" + bytes(4) + (33).to_bytes(4, "big") + c.astype(">u2").tobytes()
    tags = {b"desc": described("sampled"), b"cprt": b"text" + bytes(4) + b"none\0", b"wtpt": xyz(0.9642, 1.0, 0.8249)}
    # The colorants of sRGB adapted to D50, IEC 61966-2-1 by way of the ICC's own profile.
    for name, colour in {b"rXYZ": (0.4361, 0.2225, 0.0139), b"gXYZ": (0.3851, 0.7169, 0.0971), b"bXYZ": (0.1431, 0.0606, 0.7141)}.items():
        tags[name] = xyz(*colour)
    for name, curve in zip((b"rTRC", b"gTRC", b"bTRC"), curves):
        tags[name] = body(curve)
    light = np.stack([np.interp(shares[..., i], grid, curves[i] / 65535) for i in range(3)], axis=-1)
    return assembled(tags), light


def table_profile(side=17):
    """A scanner's table to Lab (lut16, 10.10 of ICC.1:2022) that bends and mixes sRGB's colours."""
    r, g, b = np.meshgrid(*[np.linspace(0, 1, side)] * 3, indexing="ij")
    encoded = np.stack([r, g, b], axis=-1)
    mixed = np.array([[0.90, 0.07, 0.03], [0.05, 0.90, 0.05], [0.02, 0.08, 0.90]])
    light = (encoded**2.0) @ mixed.T
    to_xyz = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])
    white = np.array([0.9642, 1.0, 0.8249])
    ratio = (light @ to_xyz.T) / white
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    lab = np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)
    # The older 16-bit encoding: L* 100 is 0xFF00, a* and b* 0 are 0x8000.
    coded = np.stack([lab[..., 0] * 652.8, (lab[..., 1] + 128) * 256, (lab[..., 2] + 128) * 256], axis=-1)
    grid = np.clip(np.rint(coded), 0, 65535).astype(">u2").tobytes()
    unity = b"".join(fixed(float(i == j)) for i in range(3) for j in range(3))
    straight = np.array([0, 65535], ">u2").tobytes()
    lut = b"mft2" + bytes(4) + bytes([3, 3, side, 0]) + unity + (2).to_bytes(2, "big") * 2 + straight * 3 + grid + straight * 3
    tags = {b"desc": described("table"), b"cprt": b"text" + bytes(4) + b"none\0", b"wtpt": xyz(*white), b"A2B0": lut}
    return assembled(tags, pcs=b"Lab ")


def main():
    corpus = Corpus(sys.argv[1])
    parts = (tiff_variants, tiff_specials, tiff_depths, tiff_refusals, by_pillow, pngs, jpegs, profiles, debian_profiles)
    for part in parts:
        part(corpus)
    corpus.finish()
    print(len(corpus.lines), "files")


if __name__ == "__main__":
    main()
