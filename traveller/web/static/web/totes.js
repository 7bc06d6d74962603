// Totes scanned one after another. A scan asks how many are in it, then it stands in a list and can be taken off again.
// The rows' own fields hold what is sent: "300 + 300 + 120". Without this script they are typed.

const form = document.querySelector("form[data-cards]");
const field = form?.querySelector("[data-tote]");
const digits = { O: "0", I: "1", L: "1" };
// The short code of a scan: the whole address, or the code alone, in any case, with or without hyphens.
const codeOf = (text) => {
  const found = /\/t\/([^/?#]+)/.exec(text);
  return (found ? decodeURIComponent(found[1]) : text).toUpperCase().replace(/[^0-9A-Z]/g, "").replace(/[OIL]/g, (c) => digits[c]);
};

function wire() {
  const rows = new Map([...form.querySelectorAll("[data-lot-row]")].map((row) => [row.dataset.lotRow, row]));
  const input = (row) => row.querySelector("[data-quantity]");
  const list = form.querySelector("[data-totes]");
  const line = form.querySelector("[data-tote-line]");
  const said = form.querySelector("[data-tote-said]");
  const twice = form.querySelector("[data-twice]");
  const card = form.querySelector('[data-card="tote"]');
  const quantity = card.querySelector("[data-quantity]");
  const scanned = new Set();
  let now = null;

  const totes = (row) => (scanned.has(row) ? input(row).value.split("+").map((text) => text.trim()).filter(Boolean) : []);
  const write = (row, values) => {
    input(row).value = values.join(" + ");
    input(row).dispatchEvent(new Event("input", { bubbles: true }));
  };
  const draw = () => {
    list.replaceChildren();
    for (const row of scanned) {
      totes(row).forEach((n, place) => {
        const item = line.content.cloneNode(true);
        item.querySelector("[data-title]").textContent = row.dataset.title;
        item.querySelector("[data-code]").textContent = row.dataset.lotRow;
        item.querySelector("[data-n]").textContent = n;
        const drop = item.querySelector("[data-drop]");
        drop.setAttribute("aria-label", drop.dataset.say.replaceAll("{n}", n));
        drop.addEventListener("click", () => {
          write(row, totes(row).filter((_, other) => other !== place));
          if (!totes(row).length) scanned.delete(row);
          draw();
          field.focus();
        });
        list.append(item);
      });
    }
    list.hidden = !list.children.length;
  };
  const say = (words) => {
    said.textContent = words;
    said.hidden = !words;
  };
  const again = card.querySelector("[data-again]");
  const put = (text) => {
    quantity.value = text;
    quantity.dispatchEvent(new Event("input", { bubbles: true }));
  };
  again.addEventListener("click", () => put(again.dataset.figure));
  const askHow = (row) => {
    now = row;
    twice.hidden = true;
    card.querySelector("[data-tote-title]").textContent = `${row.dataset.title} · ${row.dataset.lotRow}`;
    const before = totes(row);
    // Totes of one lot are mostly alike: the last figure is offered.
    again.hidden = !before.length;
    again.dataset.figure = before.at(-1) ?? "";
    again.textContent = again.dataset.say.replaceAll("{n}", again.dataset.figure);
    put("");
    card.querySelector("[data-to-tote]").click();
  };
  const scan = (text) => {
    const row = rows.get(codeOf(text));
    field.value = "";
    twice.hidden = true;
    say(row ? "" : said.dataset.sayUnknown);
    if (!row) return;
    if (!totes(row).length) { askHow(row); return; }
    now = row;
    const words = twice.querySelector("[data-words]");
    words.textContent = words.dataset.words.replaceAll("{t}", totes(row).join(" + "));
    twice.hidden = false;
    twice.querySelector("[data-another]").focus();
  };
  const add = () => {
    if (!scanned.size) {
      // What the page proposed for all rows was for a sending without scans.
      for (const row of rows.values()) if (input(row).value === input(row).defaultValue) write(row, []);
    }
    const values = totes(now);
    scanned.add(now);
    write(now, [...values, quantity.value.trim()]);
    draw();
  };

  // Before cards.js hears of it: Enter in the scan field, or the camera, is a scan and not the sending of the form.
  document.addEventListener("submit", (event) => {
    if (event.target !== form) return;
    if (field.value.trim()) {
      event.preventDefault();
      event.stopImmediatePropagation();
      scan(field.value);
    } else if (!card.hidden && quantity.value.trim()) {
      add();
    }
  }, true);
  twice.addEventListener("click", (event) => {
    if (event.target.closest("[data-another]")) askHow(now);
    else if (event.target.closest("[data-same]")) { twice.hidden = true; field.focus(); }
  });
  // The server reads the photo and leads to the page of its code: that address is all that is wanted here.
  const photo = form.querySelector("[data-tote-photo]");
  photo.addEventListener("change", async () => {
    if (!photo.files.length) return;
    say("");
    const body = new FormData();
    body.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    body.append("photo", photo.files[0]);
    try {
      const answer = await fetch(photo.dataset.totePhoto, { method: "POST", body });
      if (answer.ok && /\/t\//.test(answer.url)) scan(answer.url);
      else say(said.dataset.sayPhoto);
    } catch { say(said.dataset.sayPhoto); }
    photo.value = "";
  });
}

if (field) wire();
