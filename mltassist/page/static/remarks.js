/** For who comments: a remark at any place, kept here and handed over as one file. */
const REMARKS = `remarks on ${page.film.file} ${page.mark || ""}`;
const remarks = { rows: [], by: "", dirty: false };
if (page.for_comments) {
  try { Object.assign(remarks, JSON.parse(localStorage.getItem(REMARKS) || "{}")); } catch { /* none was kept */ }
}

function keepRemark(at, about, text) {
  remarks.rows = remarks.rows.filter((row) => !(row.at === at && row.about === about));
  if (text.trim()) remarks.rows.push({ at, timecode: timecode(at), about, text: text.trim() });
  remarks.rows.sort((one, other) => one.at - other.at);
  remarks.dirty = true;
  try { localStorage.setItem(REMARKS, JSON.stringify({ rows: remarks.rows, by: remarks.by })); } catch { /* a page may be kept from it */ }
  choices.tell();
}

function remarkText(at, about) {
  const kept = remarks.rows.find((row) => row.at === at && row.about === about);
  return make("textarea", { rows: 2, value: kept?.text || "", dir: "auto", onchange: (event) => keepRemark(at, about, event.target.value) });
}

function remarkField(card) {
  return make("label.remark", {}, make("span", {}, "Your remark"), remarkText(card.row.at, card.row.name_of || card.part));
}

function remarkHere(frame) {
  return make("label.remark", {}, make("span", {}, `Your remark at ${timecode(frame)}`), remarkText(frame, ""));
}

function saveRemarks() {
  const told = { format: "mltassist-remarks", version: 1, film: page.film.file, rate: page.film.rate, by: remarks.by, remarks: remarks.rows };
  handOver(JSON.stringify(told, null, 2) + "\n", `${page.film.name}.remarks.json`, "application/json");
  remarks.dirty = false;
  say(`${plural(remarks.rows.length, "remark")} saved as a file`);
}
