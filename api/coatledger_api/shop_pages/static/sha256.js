// SHA-256 (FIPS 180-4): a page over plain HTTP is given no cryptography by its browser, and a picture
// taken at the bench is to be recognised later.

const primes = (count) => {
  const found = [];
  for (let n = 2; found.length < count; n += 1) {
    if (found.every((prime) => n % prime !== 0)) found.push(n);
  }
  return found;
};
const fraction = (x) => ((x - Math.floor(x)) * 2 ** 32) >>> 0;
const ROUNDS = Uint32Array.from(primes(64), (prime) => fraction(Math.cbrt(prime)));
const START = Uint32Array.from(primes(8), (prime) => fraction(Math.sqrt(prime)));
const turn = (x, by) => (x >>> by) | (x << (32 - by));

/** The hash of bytes in lower-case hexadecimal. */
export function sha256(bytes) {
  const padded = new Uint8Array((((bytes.length + 8) >> 6) + 1) * 64);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(padded.length - 4, (bytes.length << 3) >>> 0);
  const hash = START.slice();
  const words = new Uint32Array(64);
  for (let at = 0; at < padded.length; at += 64) {
    for (let i = 0; i < 16; i += 1) words[i] = view.getUint32(at + 4 * i);
    for (let i = 16; i < 64; i += 1) words[i] = extended(words, i);
    compress(hash, words);
  }
  return [...hash].map((word) => word.toString(16).padStart(8, "0")).join("");
}

function extended(words, i) {
  const [a, b] = [words[i - 15], words[i - 2]];
  const low = turn(a, 7) ^ turn(a, 18) ^ (a >>> 3);
  const high = turn(b, 17) ^ turn(b, 19) ^ (b >>> 10);
  return words[i - 16] + low + words[i - 7] + high;
}

function compress(hash, words) {
  let [a, b, c, d, e, f, g, h] = hash;
  for (let i = 0; i < 64; i += 1) {
    const choice = (e & f) ^ (~e & g);
    const most = (a & b) ^ (a & c) ^ (b & c);
    const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + choice + ROUNDS[i] + words[i]) | 0;
    const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + most) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, i) => (hash[i] += word));
}
