// A file that was sent is being read: this page looks again by itself until it is, and then shows what it says.
const FIRST_MS = 1_500;
const MOST_MS = 15_000;

async function look(after) {
  if (!document.querySelector("[data-being-read]")) return;
  await new Promise((go) => { setTimeout(go, after); });
  try {
    const answer = document.hidden ? null : await fetch(location.href, { headers: { Accept: "text/html" } });
    if (answer?.ok && !(await answer.text()).includes("data-being-read")) {
      location.reload();
      return;
    }
  } catch { /* no signal just now: it looks again */ }
  look(Math.min(after * 1.5, MOST_MS));
}

look(FIRST_MS);
