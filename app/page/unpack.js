// Unpacks LZMA, which makes the page a quarter smaller than the formats that browsers unpack by themselves. The code
// follows the LZMA specification (version 9.20): a range coder with adaptive bits, literals, and copies of earlier
// bytes.

// Returns the `size` bytes packed in a stream with the header of an .lzma file.
function unpack(packed, size) {
  const properties = packed[0];
  const lc = properties % 9, lp = Math.floor(properties / 9) % 5, pb = Math.floor(properties / 45);
  const out = new Uint8Array(size);
  const chances = count => new Uint16Array(count).fill(1024);
  // The chances for the length of a copy: short, middle or long. Only the short and the middle lengths depend on the
  // place in the output.
  const lengths = () => ({choice: chances(2), low: chances(8 << pb), mid: chances(8 << pb), high: chances(256)});

  const literals = chances(0x300 << lc + lp);
  const isMatch = chances(12 << 4), isRep = chances(12), isRepG0 = chances(12), isRepG1 = chances(12), isRepG2 = chances(12);
  const isRep0Long = chances(12 << 4);
  const slots = chances(4 * 64), special = chances(128), aligned = chances(16);
  const matched = lengths(), repeated = lengths();

  // The header has 13 bytes, and the first byte of the range coder is always zero.
  let at = 14;
  // The width of the range, and the place of the code in it. (In an array they stay plain 32-bit numbers, which is
  // faster.)
  const now = new Uint32Array([0xffffffff, 0]);
  const RANGE = 0, CODE = 1;
  const next = () => { now[CODE] = now[CODE] << 8 | packed[at++]; };
  for (let k = 0; k < 4; k++) next();

  function bit(probabilities, index) {
    const chance = probabilities[index];
    const bound = (now[RANGE] >>> 11) * chance;
    let found = 0;
    if (now[CODE] < bound) {
      now[RANGE] = bound;
      probabilities[index] = chance + (2048 - chance >> 5);
    } else {
      now[RANGE] -= bound;
      now[CODE] -= bound;
      probabilities[index] = chance - (chance >> 5);
      found = 1;
    }
    if (now[RANGE] < 0x1000000) {
      now[RANGE] <<= 8;
      next();
    }
    return found;
  }

  // Reads bits that are equally likely 0 or 1.
  function plain(count) {
    let found = 0;
    for (; count > 0; count--) {
      now[RANGE] >>>= 1;
      const one = now[CODE] >= now[RANGE] ? 1 : 0;
      if (one) now[CODE] -= now[RANGE];
      found = found * 2 + one;
      if (now[RANGE] < 0x1000000) {
        now[RANGE] <<= 8;
        next();
      }
    }
    return found;
  }

  // Reads a number, highest bit first.
  function tree(probabilities, from, bits) {
    let found = 1;
    for (let k = 0; k < bits; k++) found = found << 1 | bit(probabilities, from + found);
    return found - (1 << bits);
  }

  // Reads a number, lowest bit first.
  function turned(probabilities, from, bits) {
    let found = 0, node = 1;
    for (let k = 0; k < bits; k++) {
      const one = bit(probabilities, from + node);
      node = node << 1 | one;
      found |= one << k;
    }
    return found;
  }

  function length(of, place) {
    if (!bit(of.choice, 0)) return 2 + tree(of.low, place << 3, 3);
    if (!bit(of.choice, 1)) return 10 + tree(of.mid, place << 3, 3);
    return 18 + tree(of.high, 0, 8);
  }

  function literal(done, state, back) {
    const before = done ? out[done - 1] : 0;
    const from = 0x300 * (((done & (1 << lp) - 1) << lc) + (before >> 8 - lc));
    let found = 1;
    if (state >= 7) {
      // After a copy, the byte that would have continued the copy predicts this byte.
      let expected = out[done - back - 1];
      do {
        const hint = expected >> 7 & 1;
        expected <<= 1;
        const one = bit(literals, from + (1 + hint << 8) + found);
        found = found << 1 | one;
        if (hint !== one) break;
      } while (found < 0x100);
    }
    while (found < 0x100) found = found << 1 | bit(literals, from + found);
    return found & 0xff;
  }

  function distance(size) {
    const slot = tree(slots, Math.min(size - 2, 3) << 6, 6);
    if (slot < 4) return slot;
    const bits = (slot >> 1) - 1;
    const high = (2 | slot & 1) * 2 ** bits;
    if (slot < 14) return high + turned(special, high - slot, bits);
    return high + plain(bits - 4) * 16 + turned(aligned, 0, 4);
  }

  let done = 0, state = 0, rep0 = 0, rep1 = 0, rep2 = 0, rep3 = 0;
  while (done < size) {
    const place = done & (1 << pb) - 1;
    if (!bit(isMatch, (state << 4) + place)) {
      out[done] = literal(done, state, rep0);
      done++;
      state = state < 4 ? 0 : state < 10 ? state - 3 : state - 6;
      continue;
    }
    let count;
    if (bit(isRep, state)) {
      if (!bit(isRepG0, state)) {
        if (!bit(isRep0Long, (state << 4) + place)) {
          out[done] = out[done - rep0 - 1];
          done++;
          state = state < 7 ? 9 : 11;
          continue;
        }
      } else {
        let back;
        if (!bit(isRepG1, state)) {
          back = rep1;
        } else {
          if (!bit(isRepG2, state)) {
            back = rep2;
          } else {
            back = rep3;
            rep3 = rep2;
          }
          rep2 = rep1;
        }
        rep1 = rep0;
        rep0 = back;
      }
      count = length(repeated, place);
      state = state < 7 ? 8 : 11;
    } else {
      rep3 = rep2;
      rep2 = rep1;
      rep1 = rep0;
      count = length(matched, place);
      state = state < 7 ? 7 : 10;
      rep0 = distance(count);
      if (rep0 === 0xffffffff) break;
    }
    for (; count > 0; count--, done++) out[done] = out[done - rep0 - 1];
  }
  return out;
}
