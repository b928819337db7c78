#!/usr/bin/env python3
"""Writes the seeds beside this file; needs numpy, tifffile, imagecodecs and Pillow: python make.py"""

import io
import pathlib
import sys

import imagecodecs
import numpy as np
import tifffile
from PIL import Image, PngImagePlugin

HERE = pathlib.Path(__file__).parent
sys.path.insert(0, str(HERE.parent.parent / "crates/imaging/checks"))
from make_corpus import sampled_profile, table_profile  # noqa: E402

PACKET = (
    b'<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF><rdf:Description '
    b'tiff:Orientation="6" tiff:Make="M" tiff:XResolution="4000/1" tiff:ResolutionUnit="2" xmp:CreateDate="2026-05-01T14:03:59Z">'
    b"<tiff:Model>S</tiff:Model></rdf:Description></rdf:RDF></x:xmpmeta>"
)


def put(target, name, data):
    (HERE / target).mkdir(exist_ok=True)
    (HERE / target / name).write_bytes(data)


def picture(channels, dtype="uint8"):
    y, x = np.mgrid[0:9, 0:13]
    values = np.stack([(x * (c + 3) + y * 5) * 2 for c in range(channels)], -1)
    if dtype.startswith("float"):
        values = values / 256
    elif dtype != "uint8":
        values = values * (2 ** (8 * np.dtype(dtype).itemsize - 8))
    values = values.astype(dtype)
    return values[..., 0] if channels == 1 else values


def tiffs():
    rgb, grey = {"photometric": "rgb"}, {"photometric": "minisblack"}
    tags = [(274, "H", 1, 6, True), (271, "s", 0, "maker", True), (306, "s", 0, "2026:05:01 14:03:59", True), (700, "B", len(PACKET), PACKET, True)]
    cases = {
        "plain": (picture(3), rgb | {"extratags": tags, "resolution": (4000, 4000)}),
        "lzw": (picture(3, "uint16"), rgb | {"compression": "lzw", "predictor": True, "rowsperstrip": 4}),
        "deflate": (picture(1, "uint16"), grey | {"compression": "zlib", "tile": (16, 16)}),
        "packbits": (picture(3), rgb | {"compression": "packbits"}),
        "zstd": (picture(3), rgb | {"compression": "zstd"}),
        "float": (picture(3, "float32"), rgb | {"compression": "zlib", "predictor": True}),
        "half": (picture(1, "float16"), grey | {"byteorder": ">"}),
        "double": (picture(1, "float64"), grey),
        "whole32": (picture(1, "uint32"), grey | {"compression": "lzw", "predictor": True}),
        "planar": (np.moveaxis(picture(3), -1, 0).copy(), rgb | {"planarconfig": "separate"}),
        "big": (picture(4), rgb | {"bigtiff": True, "extrasamples": ["unassalpha"]}),
        "white": (picture(1), {"photometric": "miniswhite"}),
        "bits": (picture(1) > 60, grey),
        "jpeg": (picture(3), rgb | {"compression": "jpeg", "tile": (16, 16)}),
        "palette": (picture(1) % 16, {"photometric": "palette", "colormap": (np.arange(768).reshape(3, 256) * 80).astype("uint16")}),
        "dng": (picture(3, "uint16"), {"photometric": 34892, "extratags": [(50714, "H", 3, (5, 6, 7), True), (50717, "H", 3, (60000,) * 3, True)]}),
    }
    for name, (values, options) in cases.items():
        out = io.BytesIO()
        tifffile.imwrite(out, values, metadata=None, software=False, **options)
        put("tiff", name, out.getvalue())


def saved(image, kind, **options):
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def main():
    tiffs()
    exif = Image.Exif()
    exif[274], exif[271], exif[282], exif[306] = 6, "maker", 4000.0, "2026:05:01 14:03:59"
    exif.get_ifd(0x8769)[40961] = 1
    put("exif", "block", exif.tobytes()[6:])
    put("xmp", "packet", PACKET)
    wide = imagecodecs.cms_profile("rgb", whitepoint=[0.3127, 0.329, 1], primaries=[0.64, 0.33, 1, 0.21, 0.71, 1, 0.15, 0.06, 1], gamma=2.2)
    put("icc", "wide", wide)
    put("icc", "srgb", imagecodecs.cms_profile("srgb"))
    put("icc", "grey", imagecodecs.cms_profile("gray", gamma=2.2))
    put("icc", "sampled", sampled_profile(np.zeros((1, 3)))[0])
    put("icc", "table", table_profile(side=3))
    grey, rgb = Image.fromarray(picture(1)), Image.fromarray(picture(3))
    text = PngImagePlugin.PngInfo()
    text.add_itxt("XML:com.adobe.xmp", PACKET.decode(), zip=True)
    text.add_text("Software", "s")
    put("png", "rgb", saved(rgb, "png", icc_profile=wide, exif=exif, pnginfo=text, dpi=(4000, 4000)))
    put("png", "grey", saved(grey, "png"))
    put("png", "palette", saved(rgb.quantize(8), "png", bits=4))
    put("png", "rgba-16", imagecodecs.png_encode(picture(4, "uint16")))
    put("jpeg", "rgb", saved(rgb, "jpeg", exif=exif, icc_profile=wide, xmp=PACKET))
    put("jpeg", "progressive", saved(rgb, "jpeg", progressive=True))
    put("jpeg", "restart", saved(rgb, "jpeg", restart_marker_blocks=1, subsampling=0))
    put("jpeg", "grey", saved(grey, "jpeg"))
    put("curve", "table", b"# log10 exposure, density\n-3 0.02\n-2, 0.4\n-1;1.1\n0\t1.9\n")


if __name__ == "__main__":
    main()
