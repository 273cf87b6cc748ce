"use strict";
(() => {
  const main = document.querySelector("main[data-attempt]");
  if (!main) return;

  const key = main.dataset.attempt;
  const base = `/attempt/${key}`;
  const film = document.getElementById("film");
  const reviewerField = document.getElementById("reviewer");
  const note = document.getElementById("note");
  const notice = document.getElementById("notice");
  const cards = new Map([...document.querySelectorAll(".card[data-rep]")].map((card) => [Number(card.dataset.rep), card]));
  const queue = [...document.querySelectorAll("#queue a[data-goto]")];
  const order = queue.map((link) => Number(link.dataset.goto));
  const checkKinds = { "met": "good", "not met": "norep", "too close": "unsure", "not judged": "counted" };
  const kinds = { "good": "good", "no-rep": "norep", "too close": "unsure", "only counted": "counted" };
  const screens = [...document.querySelectorAll(".screen")];
  const LEAD_S = 0.4;
  const AROUND_S = 0.5;
  const DRAWN_S = 0.25;
  const zero_s = Number(main.dataset.zero);
  const RETRY_MS = 1000;
  const UNSENT = "repwitness-unsent";
  const NAME = "repwitness-reviewer";

  let current = null;
  let stopAt = null;
  let round = null;
  let views = {};
  let lastShown = 0;
  let state = null;
  let frames = null;
  let sending = false;
  let stopped = null;
  let finished = false;
  let noteTyped = false;

  // Storage that a browser refuses must not keep anybody from reviewing.
  const keep = {
    read(name, otherwise) { try { return localStorage.getItem(name) ?? otherwise; } catch { return otherwise; } },
    write(name, value) { try { localStorage.setItem(name, value); } catch { /* the log on the server is what counts */ } },
  };
  let unsent = JSON.parse(keep.read(UNSENT, "[]"));

  const reviewer = () => reviewerField.value.trim().replace(/\s+/g, " ");
  const say = (words) => { document.getElementById("said").textContent = words; };
  const show = (words) => { notice.textContent = words; notice.hidden = !words; };
  const answered = () => { if (/^(Not saved|The desk does not answer|No call is taken)/.test(notice.textContent)) show(""); };

  // A log that is gone takes no call: the page says so and takes none either.
  function stop(why) {
    stopped = why || null;
    for (const button of document.querySelectorAll("[data-do=undo], #sign")) button.disabled = Boolean(stopped);
    callable();
    if (stopped && !document.querySelector(".log-trouble")) show(`No call is taken: ${stopped}.`);
  }

  // After the last call the keys for calls rest until a rep is chosen again.
  function callable() {
    for (const button of document.querySelectorAll("[data-call]")) button.disabled = Boolean(stopped) || finished;
  }

  function finish() {
    finished = true;
    callable();
  }

  const requestName = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");

  function written(time_s) {
    const sign = time_s < -0.005 ? "\u2212" : "";
    const hundredths = Math.round(Math.abs(time_s) * 100);
    const two = (value) => String(value).padStart(2, "0");
    const [hours, minutes] = [Math.floor(hundredths / 360000), Math.floor(hundredths / 6000) % 60];
    const rest = `${two(Math.floor(hundredths / 100) % 60)}.${two(hundredths % 100)}`;
    return hours ? `${sign}${hours}:${two(minutes)}:${rest}` : `${sign}${minutes}:${rest}`;
  }

  // The film.

  const frame_s = () => 1 / (Number(main.dataset.rate) || 30);

  async function frameTimes() {
    if (frames === null) {
      const answer = await fetch(`${base}/frames`).catch(() => null);
      frames = answer && answer.ok ? await answer.json() : [];
    }
    return frames;
  }

  function seek(time_s) {
    if (!film) return;
    stopAt = round = null;
    film.currentTime = Math.max(time_s, 0);
    drawNow();
  }

  // Further films of the attempt follow the first one on its clock.
  const further = [...document.querySelectorAll("video.further")];
  function keepInStep() {
    for (const other of further) {
      const wanted = (film.currentTime - Number(other.dataset.offset)) / (1 + Number(other.dataset.drift) * 1e-6);
      const shows = wanted >= 0 && wanted <= (other.duration || Infinity);
      other.classList.toggle("beyond", !shows);
      other.playbackRate = film.playbackRate;
      if (shows && Math.abs(other.currentTime - wanted) > (film.paused ? 0.001 : 0.08)) other.currentTime = wanted;
      if (film.paused || !shows) other.pause(); else other.play().catch(() => {});
    }
  }

  // A desk that went away takes the film with it; only a film that fails while it answers is at fault.
  async function filmFailed(at, waited) {
    const answer = await fetch(`${base}/film-check`).catch(() => null);
    if (!answer) {
      show("The desk does not answer. Is it still running?");
      setTimeout(() => filmFailed(at, true), RETRY_MS);
    } else if (waited || film.error?.code === MediaError.MEDIA_ERR_NETWORK) {
      answered();
      film.load();
      seek(at);
    } else {
      show("This browser cannot play the film as it is. Write a marked film with 'repwitness mark' and load this page again.");
    }
  }

  async function step(direction) {
    if (!film) return;
    film.pause();
    stopAt = round = null;
    const times = await frameTimes();
    const now = film.currentTime;
    if (!times.length) {
      film.currentTime = Math.max(now + direction * frame_s(), 0);
      return;
    }
    // A frame is on screen from its time on; a millisecond inside it is safe against rounding.
    let shown = times.findIndex((time_s) => time_s > now + 0.0005) - 1;
    if (shown === -2) shown = times.length - 1;
    const wanted = Math.min(Math.max(shown + direction, 0), times.length - 1);
    film.currentTime = times[wanted] + 0.001;
  }

  function playPause() {
    if (!film) return;
    stopAt = null;
    if (film.paused) film.play().catch(() => {}); else film.pause();
  }

  function replay() {
    const card = cards.get(current);
    if (!film || !card) return;
    round = null;
    film.currentTime = Math.max(Number(card.dataset.start) - LEAD_S, 0);
    stopAt = Number(card.dataset.end) + LEAD_S;
    film.play().catch(() => {});
  }

  // Round and round from shortly before to shortly after what decides.
  function goRound(from, to) {
    if (!film) return;
    stopAt = null;
    round = [Math.max(from, 0), to];
    film.currentTime = round[0];
    film.playbackRate = Number(document.getElementById("speed").value);
    film.play().catch(() => {});
  }

  function changeSpeed(direction) {
    const speed = document.getElementById("speed");
    const index = Math.min(Math.max(speed.selectedIndex + direction, 0), speed.options.length - 1);
    speed.selectedIndex = index;
    if (film) film.playbackRate = Number(speed.value);
  }

  function drawNow() {
    if (!film) return;
    const now = film.currentTime;
    if (now > 0) lastShown = now;
    document.getElementById("now").textContent = zero_s ? `${written(now - zero_s)} (film ${written(now)})` : written(now);
    if (round !== null && now >= round[1]) film.currentTime = round[0];
    document.getElementById("screen").classList.toggle("deciding", current !== null && Math.abs(now - Number(cards.get(current).dataset.at)) <= DRAWN_S);
    if (stopAt !== null && now >= stopAt) { film.pause(); stopAt = null; }
    for (const row of document.querySelectorAll(".timeline .row")) {
      const head = row.querySelector(".playhead");
      const start = Number(row.dataset.start);
      const inside = now >= start && now < Number(row.dataset.end);
      head.style.display = inside ? "" : "none";
      if (!inside) continue;
      const x = Number(row.dataset.left) + (now - start) * Number(row.dataset.scale);
      head.setAttribute("x1", x);
      head.setAttribute("x2", x);
    }
  }

  // What of the picture is on screen, and the lines on it.

  const picture = { left: 0, top: 0, right: Number(main.dataset.width), bottom: Number(main.dataset.height) };
  let part = picture;

  function showPart(wanted) {
    const width = Math.min(wanted.right - wanted.left, picture.right);
    const height = Math.min(wanted.bottom - wanted.top, picture.bottom);
    const left = Math.min(Math.max(wanted.left, 0), picture.right - width);
    const top = Math.min(Math.max(wanted.top, 0), picture.bottom - height);
    part = { left, top, right: left + width, bottom: top + height };
    for (const screen of screens) {
      const scale = Math.min(screen.clientWidth / width, screen.clientHeight / height);
      const x = (screen.clientWidth - width * scale) / 2 - left * scale;
      const y = (screen.clientHeight - height * scale) / 2 - top * scale;
      const video = screen.querySelector("video");
      video.style.width = `${picture.right * scale}px`;
      video.style.height = `${picture.bottom * scale}px`;
      video.style.transform = `translate(${x}px, ${y}px)`;
      screen.querySelector("svg").setAttribute("viewBox", `${-x / scale} ${-y / scale} ${screen.clientWidth / scale} ${screen.clientHeight / scale}`);
    }
    document.getElementById("whole")?.setAttribute("aria-pressed", String(width >= picture.right && height >= picture.bottom));
  }

  const athlete = () => views[current]?.part ?? picture;

  function wholePicture() {
    showPart(document.getElementById("whole").getAttribute("aria-pressed") === "true" ? athlete() : picture);
  }

  function zoom(screen, factor, x, y) {
    const box = screen.getBoundingClientRect();
    const seen = screen.querySelector("svg").viewBox.baseVal;
    const at = { x: seen.x + ((x - box.left) / box.width) * seen.width, y: seen.y + ((y - box.top) / box.height) * seen.height };
    if (factor > 1 && (part.right - part.left) / factor < picture.right / 16) return;
    showPart({
      left: at.x - (at.x - part.left) / factor,
      right: at.x + (part.right - at.x) / factor,
      top: at.y - (at.y - part.top) / factor,
      bottom: at.y + (part.bottom - at.y) / factor,
    });
  }

  function pan(screen, x, y) {
    const scale = screen.querySelector("svg").viewBox.baseVal.width / screen.clientWidth;
    showPart({ left: part.left - x * scale, right: part.right - x * scale, top: part.top - y * scale, bottom: part.bottom - y * scale });
  }

  let dragged = false;
  for (const screen of screens) {
    let pinch = null;
    screen.addEventListener("wheel", (event) => {
      event.preventDefault();
      zoom(screen, Math.exp(-event.deltaY / 400), event.clientX, event.clientY);
    }, { passive: false });
    screen.addEventListener("touchmove", (event) => {
      if (event.touches.length !== 2) return;
      event.preventDefault();
      const [one, other] = event.touches;
      const now = { x: (one.clientX + other.clientX) / 2, y: (one.clientY + other.clientY) / 2, apart: Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY) };
      if (pinch) {
        pan(screen, now.x - pinch.x, now.y - pinch.y);
        zoom(screen, now.apart / pinch.apart, now.x, now.y);
      }
      pinch = now;
    }, { passive: false });
    screen.addEventListener("touchend", () => { pinch = null; });
    screen.addEventListener("pointerdown", () => { dragged = false; });
    screen.addEventListener("pointermove", (event) => {
      if (event.pointerType !== "mouse" || event.buttons !== 1 || !(event.movementX || event.movementY)) return;
      dragged = true;
      pan(screen, event.movementX, event.movementY);
    });
  }
  window.addEventListener("resize", () => showPart(part));

  function drawLines() {
    const view = views[current];
    for (const drawn of document.querySelectorAll(".drawn")) {
      drawn.replaceChildren(...(view?.lines ?? []).flatMap(({ kind, x1, y1, x2, y2 }) =>
        ["drawn-edge", kind === "limit" ? "drawn-limit" : `drawn-measured ${checkKinds[view.verdict]}`].map((name) =>
          svgElement("line", { class: name, x1, y1, x2, y2 }))));
    }
  }

  // The timeline.

  const svgElement = (name, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [attribute, value] of Object.entries(attributes)) made.setAttribute(attribute, value);
    return made;
  };

  for (const row of document.querySelectorAll(".timeline .row")) {
    const lane = row.querySelector(".lane");
    const bottom = Number(lane.getAttribute("y")) + Number(lane.getAttribute("height"));
    row.append(svgElement("line", { class: "playhead", y1: Number(lane.getAttribute("y")) - 18, y2: bottom }));
  }

  function timeAt(timeline, event) {
    const box = timeline.getBoundingClientRect();
    const scale = timeline.viewBox.baseVal.width / box.width;
    const x = (event.clientX - box.left) * scale;
    const y = (event.clientY - box.top) * scale;
    const rows = [...timeline.querySelectorAll(".row")];
    const row = rows.findLast((candidate) => y >= Number(candidate.querySelector(".lane").getAttribute("y")) - 48) ?? rows[0];
    const time_s = Number(row.dataset.start) + (x - Number(row.dataset.left)) / Number(row.dataset.scale);
    return Math.min(Math.max(time_s, Number(row.dataset.start)), Number(row.dataset.end) - 0.001);
  }

  function repUnder(time_s) {
    for (const [number, card] of cards) {
      if (time_s >= Number(card.dataset.start) && time_s < Number(card.dataset.end)) return number;
    }
    return null;
  }

  for (const timeline of document.querySelectorAll(".timeline")) {
    timeline.addEventListener("click", (event) => {
      const mark = event.target.closest("[data-rep]");
      if (mark) {
        event.preventDefault();
        select(Number(mark.dataset.rep), { play: true });
        return;
      }
      const time_s = timeAt(timeline, event);
      const under = repUnder(time_s);
      if (under !== null) select(under, { play: false });
      seek(time_s);
    });
  }

  function drawMarks() {
    for (const mark of document.querySelectorAll(".timeline [data-rep]")) {
      const number = Number(mark.dataset.rep);
      const rep = state.reps[number - 1];
      const use = mark.querySelector(".placed");
      const suffix = use.getAttribute("href").split("-").pop();
      use.setAttribute("href", `#mark-${kinds[rep.verdict]}-${suffix}`);
      mark.querySelectorAll(".decided-bar, .ring").forEach((old) => old.remove());
      const x = Number(use.getAttribute("x"));
      const y = Number(use.getAttribute("y"));
      if (rep.mine) mark.append(svgElement("path", { class: "decided-bar", d: `M${x - 5} ${y + 8.5}h10` }));
      if (number === current) mark.append(svgElement("circle", { class: "ring", cx: x, cy: y, r: 9 }));
    }
  }

  // Which rep is being called.

  function select(number, { play }) {
    const card = cards.get(number);
    if (!card) return;
    if (current !== null) cards.get(current).hidden = true;
    current = number;
    finished = false;
    callable();
    card.hidden = false;
    card.classList.remove("flash");
    void card.offsetWidth;
    card.classList.add("flash");
    const rep = state ? state.reps[number - 1] : null;
    note.value = rep ? rep.note : "";
    noteTyped = false;
    for (const link of queue) {
      if (Number(link.dataset.goto) === number) {
        link.setAttribute("aria-current", "true");
        keepInView(link);
      } else link.removeAttribute("aria-current");
    }
    history.replaceState(null, "", `#rep-${number}`);
    if (state) drawMarks();
    showRep(card);
    if (play) goRound(Number(card.dataset.at) - AROUND_S, Number(card.dataset.at) + AROUND_S);
    else seek(Number(card.dataset.at));
  }

  function showRep(card) {
    if (!film) return;
    document.getElementById("still").currentTime = Number(card.dataset.at);
    showPart(athlete());
    drawLines();
  }

  function keepInView(link) {
    const list = document.getElementById("queue");
    const top = link.offsetTop - list.offsetTop;
    if (top < list.scrollTop) list.scrollTop = top;
    else if (top + link.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top + link.offsetHeight - list.clientHeight;
  }

  function next() {
    const place = order.indexOf(current);
    const after = [...order.slice(place + 1), ...order.slice(0, Math.max(place, 0))];
    const open = after.find((number) => !state.reps[number - 1].mine);
    if (open !== undefined) { select(open, { play: true }); return; }
    select(current, { play: false });
    finish();
    say("Every rep in the queue is called. The sheet can be signed off.");
    document.getElementById("finish").scrollIntoView({ block: "nearest" });
    document.getElementById("sign").focus({ preventScroll: true });
  }

  function back() {
    const place = order.indexOf(current);
    const target = order[(place > 0 ? place : order.length) - 1];
    if (target !== undefined) select(target, { play: true });
  }

  // Calls.

  function named() {
    if (reviewer()) return true;
    reviewerField.classList.add("asked");
    reviewerField.focus();
    show("Write your name first: every call carries the name of who made it.");
    return false;
  }

  function call(verdict, standard = "") {
    if (stopped) { stop(stopped); return; }
    if (finished || current === null || !state || !named()) return;
    if (/call undone|call of yours/.test(notice.textContent)) show("");
    const rep = state.reps[current - 1];
    const body = { request: requestName(), rep: current, call: verdict, reviewer: reviewer(), note: note.value, standard };
    rep.mine = verdict;
    rep.standard = standard;
    rep.note = note.value;
    if (verdict !== "skip") { rep.verdict = verdict; rep.state = "decided"; }
    say(`Rep ${current}: ${verdict}${standard && `, ${standard}`}.`);
    draw();
    send("decide", body);
    next();
  }

  function undo() {
    if (stopped || !named()) return;
    send("undo", { request: requestName(), reviewer: reviewer() });
  }

  function undone(number) {
    const words = number === null ? "There is no call of yours to undo." : `Rep ${number}: call undone.`;
    if (number !== null) select(number, { play: false });
    document.activeElement?.blur();
    show(words);
  }

  // The failed standard is named by its number on the card.
  function failed(place) {
    const button = cards.get(current)?.querySelectorAll("[data-failed]")[place - 1];
    if (button) call("no-rep", button.dataset.failed);
  }

  function signByKey() {
    const left = order.filter((number) => !state?.reps[number - 1].mine).length;
    if (left) show(`${left === 1 ? "1 rep is" : `${left} reps are`} still to call. The button signs all the same.`);
    else sign();
  }

  function sign() {
    if (stopped || !named()) return;
    send("sign", { request: requestName(), reviewer: reviewer() });
  }

  let deedsDone = 0;

  function send(what, body) {
    deedsDone += 1;
    unsent.push({ attempt: key, what, body });
    keep.write(UNSENT, JSON.stringify(unsent));
    flush();
  }

  async function flush() {
    if (sending) return;
    sending = true;
    while (unsent.length) {
      const { attempt, what, body } = unsent[0];
      let answer = null;
      try {
        answer = await fetch(`/attempt/${attempt}/${what}`, {
          method: "POST",
          headers: { "content-type": "application/json" },
          body: JSON.stringify(body),
        });
      } catch { answer = null; }
      const refused = answer && answer.status >= 400 && answer.status < 500 && answer.status !== 401;
      if (!answer || (!answer.ok && !refused)) {
        const reason = answer ? await answer.text() : "the desk does not answer";
        if (answer?.headers.get("x-log-gone")) stop(reason);
        show(`Not saved yet: ${reason}. ${unsent.length === 1 ? "Your call is" : `Your ${unsent.length} calls are`} kept in this browser and sent again.`);
        setTimeout(() => { sending = false; flush(); }, RETRY_MS);
        return;
      }
      unsent.shift();
      keep.write(UNSENT, JSON.stringify(unsent));
      if (refused) { show(`Refused: ${await answer.text()}`); continue; }
      const told = await answer.json();
      answered();
      stop(told.log_trouble);
      if (attempt === key && !unsent.length) {
        state = told;
        deedsDone += 1;
        draw();
        if (what === "undo") undone(told.undone);
      }
    }
    sending = false;
  }

  // What stands.

  function draw() {
    if (!state) return;
    document.getElementById("score").textContent = state.score;
    document.getElementById("score-words").textContent = state.words;
    for (const [verdict, count] of Object.entries(state.counts)) {
      document.getElementById(`count-${verdict.replace(" ", "-")}`).textContent = count;
    }
    for (const link of queue) {
      const rep = state.reps[Number(link.dataset.goto) - 1];
      link.querySelector("[data-mine]").textContent = rep.mine ? `you: ${rep.mine}` : "";
    }
    const left = order.filter((number) => !state.reps[number - 1].mine).length;
    document.getElementById("finish").classList.toggle("ready", left === 0);
    document.getElementById("queue-left").textContent = order.length ? (left ? `${left} to call` : "all called") : "";
    for (const [number, card] of cards) drawCalls(card, state.reps[number - 1]);
    const signed = document.getElementById("signed");
    signed.textContent = state.signed ?? "";
    signed.hidden = !state.signed;
    const settled = Boolean(state.signed) && !state.signed.includes("changed since");
    document.getElementById("finish").classList.toggle("settled", settled);
    document.getElementById("sign-words").textContent = state.signed ? "Sign again" : "Sign the sheet off";
    document.getElementById("blind").hidden = !state.blind;
    drawMarks();
    drawNow();
  }

  function drawCalls(card, rep) {
    const line = card.querySelector("[data-calls]");
    const parts = [];
    if (rep.mine) parts.push(`you: ${rep.mine}${rep.standard && `, ${rep.standard}`}`);
    for (const [name, verdict] of Object.entries(rep.others)) parts.push(`${name}: ${verdict}`);
    const sentences = parts.length ? [`Called by ${parts.join("; ")}.`] : [];
    if (rep.state === "disputed") sentences.push("Reviewers disagree, so it stays uncalled.");
    line.textContent = sentences.join(" ");
    line.hidden = !sentences.length;
  }

  async function load() {
    const before = deedsDone;
    const answer = await fetch(`${base}/state?reviewer=${encodeURIComponent(reviewer())}`).catch(() => null);
    if (!answer || !answer.ok) {
      show("The desk does not answer. Is it still running?");
      setTimeout(load, RETRY_MS);
      return;
    }
    const told = await answer.json();
    // An answer from before the latest call would take that call off the screen again.
    if (deedsDone !== before) { load(); return; }
    if (state && unsent.some(({ attempt }) => attempt === key)) return;
    state = told;
    answered();
    stop(state.log_trouble);
    draw();
    if (current === null && cards.size) {
      const asked = Number((/^#rep-(\d+)$/.exec(location.hash) ?? [])[1]);
      const open = order.find((number) => !state.reps[number - 1].mine);
      select(cards.has(asked) ? asked : open ?? order[0] ?? 1, { play: false });
      if (order.length && open === undefined && !cards.has(asked)) finish();
    } else if (current !== null && document.activeElement !== note && !noteTyped) note.value = state.reps[current - 1].note;
    flush();
  }

  // Hands and keys.

  const deeds = {
    g: () => call("good"),
    n: () => call("no-rep"),
    s: () => call("skip"),
    b: back,
    r: replay,
    u: undo,
    m: () => note.focus(),
    o: signByKey,
    a: () => { location.href = document.getElementById("next").href; },
    w: wholePicture,
    ...Object.fromEntries([1, 2, 3, 4, 5].map((place) => [place, () => failed(place)])),
    " ": playPause,
    ArrowLeft: () => step(-1),
    ArrowRight: () => step(1),
    ",": () => changeSpeed(-1),
    ".": () => changeSpeed(1),
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const place = event.target;
    if (place.matches("textarea, input:not([type=checkbox])")) {
      if (event.key === "Escape" || (event.key === "Enter" && place === reviewerField)) place.blur();
      return;
    }
    if (place.matches("select") && event.key.startsWith("Arrow")) return;
    if (event.key === " " && place.matches("button, select, input, a")) return;
    const deed = deeds[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!deed || (event.repeat && !event.key.startsWith("Arrow"))) return;
    event.preventDefault();
    deed();
  });

  for (const button of document.querySelectorAll("[data-call]")) button.addEventListener("click", () => call(button.dataset.call));
  for (const button of document.querySelectorAll("[data-failed]")) button.addEventListener("click", () => call("no-rep", button.dataset.failed));
  for (const button of document.querySelectorAll(".stretch")) {
    button.addEventListener("click", () => { showPart(picture); goRound(Number(button.dataset.from) - AROUND_S, Number(button.dataset.to) + AROUND_S); });
  }
  const clicks = { back, replay, undo };
  for (const button of document.querySelectorAll("[data-do]")) button.addEventListener("click", clicks[button.dataset.do]);
  for (const button of document.querySelectorAll("[data-seek]")) {
    button.addEventListener("click", () => { if (film) film.pause(); seek(Number(button.dataset.seek)); });
  }
  for (const link of queue) {
    link.addEventListener("click", (event) => { event.preventDefault(); select(Number(link.dataset.goto), { play: true }); });
  }
  document.getElementById("sign").addEventListener("click", sign);
  // A note that is typed and not yet sent is not lost to an answer that comes late.
  if (note) note.addEventListener("input", () => { noteTyped = true; });

  reviewerField.value = keep.read(NAME, "");
  reviewerField.addEventListener("change", () => {
    reviewerField.value = reviewer();
    reviewerField.classList.remove("asked");
    keep.write(NAME, reviewer());
    if (reviewer()) show("");
    load();
  });

  if (film) {
    document.getElementById("play").addEventListener("click", playPause);
    document.getElementById("step-back").addEventListener("click", () => step(-1));
    document.getElementById("step-on").addEventListener("click", () => step(1));
    document.getElementById("speed").addEventListener("change", (event) => { film.playbackRate = Number(event.target.value); });
    film.addEventListener("click", () => { if (!dragged) playPause(); });
    film.addEventListener("ended", () => { if (round !== null) goRound(...round); });
    document.getElementById("whole").addEventListener("click", wholePicture);
    film.playbackRate = Number(document.getElementById("speed").value);
    fetch(`${base}/views`).then((answer) => answer.json()).then((told) => {
      views = told;
      if (current !== null) showRep(cards.get(current));
    }).catch(() => {});
    film.addEventListener("play", () => { document.getElementById("play").textContent = "Pause"; requestAnimationFrame(follow); });
    film.addEventListener("pause", () => { document.getElementById("play").textContent = "Play"; drawNow(); });
    film.addEventListener("seeked", drawNow);
    for (const event of ["play", "pause", "seeked", "ratechange", "timeupdate"]) film.addEventListener(event, keepInStep);
    for (const other of further) other.addEventListener("loadedmetadata", keepInStep, { once: true });
    film.addEventListener("error", () => filmFailed(lastShown, false));
    const marked = document.getElementById("marked");
    if (marked) marked.addEventListener("change", () => {
      const now = film.currentTime;
      round = null;
      film.src = `${base}/film/${marked.checked ? "marked" : "original"}`;
      film.addEventListener("loadedmetadata", () => { film.currentTime = now; film.playbackRate = Number(document.getElementById("speed").value); }, { once: true });
    });
    fetch(`${base}/film-check`).then((answer) => answer.json()).then((told) => {
      if (told.same === false) show("This film is not the one that was audited: its digest differs. Times and calls may not fit.");
    }).catch(() => {});
  }

  function follow() {
    drawNow();
    if (!film.paused) requestAnimationFrame(follow);
  }

  load();
})();
