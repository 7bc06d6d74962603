// A scanned or typed code, read on the phone when nobody else can: the rules of traveller/rules/codes.py that a
// camera, a wedge and a thumb need. (Foreign keyboard layouts are left to the server.)

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LOOK_ALIKES = { O: "0", I: "1", L: "1", U: "V" };
const ADDRESS = /^.*([^0-9A-Za-z\s])t\1((?:(?!\1)[^?#])+)(?:\1([0-9]{1,5}))?\1*(?:[?#].*)?$/is;

const timesRoot = (value) => (value & 16 ? (value << 1) ^ 0b100101 : value << 1);

function checkOf(body) {
  let total = 0;
  for (const character of body) total = timesRoot(total) ^ ALPHABET.indexOf(character);
  return ALPHABET[timesRoot(total) ^ 17];
}

const isCode = (text) => text.length === 7 && [...text].every((c) => ALPHABET.includes(c)) && checkOf(text.slice(0, 6)) === text[6];

const folded = (text) => text.normalize("NFKC").replace(/[\p{Cc}\p{Cf}\s\-_.·'*/\\:;,+‐‑‒–—−]/gu, "").toUpperCase().replace(/[OILU]/g, (c) => LOOK_ALIKES[c]);

// {code, step} of a whole address or a bare code; {text} of what is none.
function readCode(typed) {
  const text = typed.slice(0, 500).normalize("NFKC").trim();
  const bare = folded(folded(text).length > 7 ? text.replace(/^[\]+*¨][A-Za-z][0-9]/, "") : text);
  const address = bare.length > 7 ? ADDRESS.exec(text) : null;
  const code = address ? folded(address[2]) : bare;
  const step = address?.[3] ? Number(address[3]) : null;
  return isCode(code) ? { code, step } : { text: code.slice(0, 60) };
}

// One wrong character or two neighbours swapped: what the check character catches, it can also lead back from.
function isNear(text, code) {
  if (text.length !== code.length) return false;
  const wrong = [...code].map((c, i) => (c === text[i] ? -1 : i)).filter((i) => i >= 0);
  const [a, b] = wrong;
  return wrong.length === 1 || (wrong.length === 2 && b === a + 1 && text[a] === code[b] && text[b] === code[a]);
}
