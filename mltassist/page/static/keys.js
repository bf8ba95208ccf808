/** The keyboard: everything can be done with it, and a sheet tells how. */
const SHEET = [
  ["In the list", [["↓ ↑", "the next decision, the one before"], ["n p", "the same from anywhere"], ["o", "the next that is open"], ["v", "the first of the next part"], ["Esc", "back to the film"]]],
  ["On a decision", [["space", "play it"], ["a", "play it as it was"], ["↵", "accept; once more takes it back"], ["⌫", "refuse: not this one, leave my cut, no pause"],
    ["1 2 3", "take another clip"], ["f", "the face stays"], ["+ −", "longer, shorter"]]],
  ["In the film", [["→ ←", "the next edit, the one before"], ["↓ ↑", "a line on, a line back"], ["b", "open a pause at the mark; once more takes it back"], ["+ −", "longer, shorter"], ["↵", "to the decision there"]]],
  ["The page", [["d", "listen with eyes shut"], [served ? "w" : "s", served ? "write the new project" : "save the choices"], ["?", "this sheet"]]],
];
const SINGLE = "single keys";
let single = true;
try { single = localStorage.getItem(SINGLE) !== "off"; } catch { /* a page may be kept from it */ }

function buildHelp() {
  const box = make("input", { type: "checkbox", checked: single, onchange: () => {
    single = box.checked;
    try { localStorage.setItem(SINGLE, single ? "on" : "off"); } catch { /* it then holds for now */ }
  } });
  const rows = page.for_comments ? SHEET.slice(0, 1).concat([["On a place", [["space", "play it"], ["↵", "write a remark"]]], ["The page", [["s", "save the remarks"], ["?", "this sheet"]]]]) : SHEET;
  const parts = [make("h2", { id: "help-title" }, "Keys"),
    rows.map(([title, keys]) => [make("h3", {}, title), make("dl.keys", {}, keys.map(([key, what]) =>
      make("div", {}, make("dt", {}, key.split(" ").map((one, place) => [place ? " " : "", make("kbd", {}, one)])), make("dd", {}, what))))]),
    make("p", {}, make("label", {}, box, " Keys of one letter, digit or sign are on")),
    make("p", {}, make("button.act", { type: "button", onclick: () => byId("help").close() }, "Close"))];
  add(byId("help"), parts);
}

const openHelp = () => byId("help").showModal();

const WRITING = "input, textarea, select, [contenteditable]";

function onKey(event) {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const target = event.target;
  if (target.closest(WRITING)) {
    if (event.key === "Escape") { event.preventDefault(); target.closest(".card")?.focus({ preventScroll: true }); }
    return;
  }
  const { key } = event;
  const done = (act) => { event.preventDefault(); act(); };
  const card = target.closest(".card") && current;
  if (key === "Escape" && card) return void done(() => { byId("film").scrollIntoView(); strip.go(strip.at, false); strip.body.focus({ preventScroll: true }); });
  if (card && key === "ArrowDown") return void done(() => step(1));
  if (card && key === "ArrowUp") return void done(() => step(-1));
  const onButton = target.closest("button, a, summary, .wide");
  if (card && !onButton) {
    if (key === " ") return void done(() => card.play?.());
    if (key === "Enter" && page.for_comments) return void done(() => card.element.querySelector("textarea")?.focus());
    if (key === "Enter" && card.keys.Enter) return void done(card.keys.Enter);
  }
  if (card && (key === "Delete" || key === "Backspace") && card.keys.Delete) return void done(card.keys.Delete);
  if (!single || key.length !== 1) return;
  const letter = key === "−" || key === "_" ? "-" : key === "=" ? "+" : key.toLowerCase();
  if (card && card.keys[letter]) return void done(card.keys[letter]);
  if (card && letter === "a") return void done(() => card.play?.(true));
  const act = { n: () => step(1), p: () => step(-1), o: nextOpen, v: nextPart, b: () => strip.pauseHere(), d: () => dark.open(), s: () => saving(), w: () => (served ? server.write() : say("only a served page writes")), "?": openHelp }[letter];
  if (act) done(act);
}
document.addEventListener("keydown", onKey);
