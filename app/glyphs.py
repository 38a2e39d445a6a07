"""Empties the outlines of the fonts' glyphs that no text can reach: small capitals, old-style figures and other forms
that only a typesetter would request. The library finds a glyph by its character, or by a ligature (src/sheet/text.rs),
so the page never shows these outlines. An emptied outline keeps its place and its length, so the rest of the file does
not change, and its zeros pack to almost nothing. The tables are defined by OpenType (ISO/IEC 14496-22) and the Compact
Font Format (Adobe Technical Note 5176)."""

import struct


def emptied(library):
    """Returns the library with the unreachable outlines of its fonts emptied, and the number of bytes emptied."""
    library = bytearray(library)
    count = 0
    at = library.find(b"OTTO")
    while at >= 0:
        tables = directory(library, at)
        if {"CFF ", "cmap", "GSUB", "maxp"} <= tables.keys():
            reached = {0} | mapped(library, tables["cmap"]) | ligatures(library, tables["GSUB"])
            for glyph, (start, end) in enumerate(outlines(library, tables["CFF "])):
                if glyph not in reached:
                    library[start:end] = bytes(end - start)
                    count += end - start
        at = library.find(b"OTTO", at + 4)
    return bytes(library), count


def number(data, at, size=2):
    return int.from_bytes(data[at:at + size], "big")


def directory(data, font):
    """Returns the places of a font's tables by their tags, or an empty dictionary if no font begins at `font`."""
    count = number(data, font + 4)
    if not 4 < count < 64:
        return {}
    entries = (font + 12 + 16 * index for index in range(count))
    return {data[at:at + 4].decode("latin-1"): font + number(data, at + 8, 4) for at in entries}


def mapped(data, cmap):
    """Returns the glyphs to which the font maps a character."""
    found = set()
    for index in range(number(data, cmap + 2)):
        table = cmap + number(data, cmap + 4 + 8 * index + 4, 4)
        form = number(data, table)
        if form == 4:
            found |= segments(data, table)
        elif form == 12:
            for group in range(number(data, table + 12, 4)):
                first, last, glyph = struct.unpack_from(">III", data, table + 16 + 12 * group)
                found.update(range(glyph, glyph + last - first + 1))
        elif form == 6:
            found.update(number(data, table + 10 + 2 * index) for index in range(number(data, table + 8)))
        elif form != 14:
            # Format 14 chooses among glyphs by a second character. The library does not read this format.
            raise ValueError(f"a character map of format {form}")
    return found


def segments(data, table):
    count = number(data, table + 6) // 2
    ends, starts = table + 14, table + 16 + 2 * count
    deltas, offsets = starts + 2 * count, starts + 4 * count
    found = set()
    for segment in range(count):
        start, end = number(data, starts + 2 * segment), number(data, ends + 2 * segment)
        delta, place = number(data, deltas + 2 * segment), offsets + 2 * segment
        for char in range(start, min(end, 0xfffe) + 1):
            offset = number(data, place)
            glyph = number(data, place + offset + 2 * (char - start)) if offset else char
            if glyph or not offset:
                found.add((glyph + delta) & 0xffff)
    return found


def ligatures(data, gsub):
    """Returns the glyphs of all ligatures, of every feature."""
    lookups = gsub + number(data, gsub + 8)
    found = set()
    for index in range(number(data, lookups)):
        lookup = lookups + number(data, lookups + 2 + 2 * index)
        for which in range(number(data, lookup + 4)):
            kind, table = number(data, lookup), lookup + number(data, lookup + 6 + 2 * which)
            if kind == 7:
                kind, table = number(data, table + 2), table + number(data, table + 4, 4)
            if kind != 4:
                continue
            for one in range(number(data, table + 4)):
                group = table + number(data, table + 6 + 2 * one)
                places = (group + number(data, group + 2 + 2 * each) for each in range(number(data, group)))
                found.update(number(data, place) for place in places)
    return found


def outlines(data, cff):
    """Returns the start and the end of the outline of each glyph, in the order of the glyphs."""
    names = listed(data, cff + data[cff + 2])
    tops = listed(data, names[-1][1])
    start, end = tops[0]
    operands = []
    while start < end:
        first = data[start]
        if first in (28, 29):
            size = 2 if first == 28 else 4
            operands.append(int.from_bytes(data[start + 1:start + 1 + size], "big", signed=True))
            start += 1 + size
        elif first == 30:
            while data[start] & 15 != 15:
                start += 1
            start += 1
        elif first >= 32:
            two = first >= 247
            operands.append(first)  # The place of the outlines is never a number of one or two bytes.
            start += 2 if two else 1
        else:
            if first == 17:
                return listed(data, cff + operands[-1])
            operands = []
            start += 2 if first == 12 else 1
    raise ValueError("a font without outlines")


def listed(data, index):
    """Returns the start and the end of each part of an INDEX of the Compact Font Format."""
    count, size = number(data, index), data[index + 2]
    if not count:
        return [(index + 2, index + 2)]
    base = index + 2 + size * (count + 1)
    ends = [base + number(data, index + 3 + size * part, size) for part in range(count + 1)]
    return list(zip(ends, ends[1:]))
