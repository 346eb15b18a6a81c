"use strict";
// All words come out of the page's own data as text; nothing here makes markup of them.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const board = document.getElementById("board");
  const told = document.getElementById("told");
  const each = (where, what, act) => where.querySelectorAll(what).forEach(act);
  const make = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });
  let front = data.sizes.indexOf(data.front);
  let kept = null;

  // --- zoom and pan: the view box alone changes -------------------------------------
  const whole = ["x", "y", "width", "height"].map((side) => board.viewBox.baseVal[side]);
  let view = [...whole];
  const bars = document.querySelectorAll("[data-long]");
  const perUnit = () => Math.min(board.clientWidth / view[2], board.clientHeight / view[3]);

  function look(next) {
    const wide = Math.min(whole[2], Math.max(whole[2] / 60, next[2]));
    const tall = (wide * whole[3]) / whole[2];
    const keep = (at, from, all, part) => Math.min(Math.max(at, from - part / 2), from + all - part / 2);
    view = [keep(next[0], whole[0], whole[2], wide), keep(next[1], whole[1], whole[3], tall), wide, tall];
    if (wide === whole[2]) view = [...whole];
    board.setAttribute("viewBox", view.map((v) => v.toFixed(3)).join(" "));
    board.classList.toggle("near", wide < whole[2]);
    const k = perUnit();
    bars.forEach((bar) => {
      // Where the piece is seen from near, a tenth of the length is enough.
      bar.style.width = `${Math.min(bar.dataset.long * k, innerWidth * 0.8).toFixed(1)}px`;
    });
  }
  function zoom(times, x = view[0] + view[2] / 2, y = view[1] + view[3] / 2) {
    const wide = Math.min(whole[2], view[2] / times);
    const share = wide / view[2];
    look([x - (x - view[0]) * share, y - (y - view[1]) * share, wide]);
  }
  const at = (event) => {
    const point = new DOMPoint(event.clientX, event.clientY);
    return point.matrixTransform(board.getScreenCTM().inverse());
  };
  board.addEventListener("wheel", (event) => {
    // At the whole board, scrolling on goes on down the page.
    if (event.deltaY > 0 && view[2] >= whole[2]) return;
    event.preventDefault();
    const place = at(event);
    zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0016)), place.x, place.y);
  }, { passive: false });

  const fingers = new Map();
  let apart = 0;
  board.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event);
    apart = 0;
  });
  board.addEventListener("pointermove", (event) => {
    const last = fingers.get(event.pointerId);
    if (!last) return;
    fingers.set(event.pointerId, event);
    if (fingers.size === 1) {
      if (view[2] >= whole[2]) return;
      const k = perUnit();
      look([view[0] - (event.clientX - last.clientX) / k, view[1] - (event.clientY - last.clientY) / k, view[2]]);
      return;
    }
    const [one, other] = [...fingers.values()];
    const now = Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
    const middle = at({ clientX: (one.clientX + other.clientX) / 2, clientY: (one.clientY + other.clientY) / 2 });
    if (apart) zoom(now / apart, middle.x, middle.y);
    apart = now;
  });
  for (const end of ["pointerup", "pointercancel", "pointerleave"])
    board.addEventListener(end, (event) => { fingers.delete(event.pointerId); apart = 0; });

  function to(box, room = 0.35) {
    const wide = Math.max(box.width, (box.height * whole[2]) / whole[3]) * (1 + room);
    const tall = (wide * whole[3]) / whole[2];
    look([box.x + box.width / 2 - wide / 2, box.y + box.height / 2 - tall / 2, wide]);
  }
  const act = {
    in: () => zoom(1.5),
    out: () => zoom(1 / 1.5),
    fit: () => look(whole),
  };
  each(document, "[data-zoom]", (button) => button.addEventListener("click", () => act[button.dataset.zoom]()));

  // --- edges -------------------------------------------------------------------------
  const edges = () => [...board.querySelectorAll(".edge")];
  const seamsOf = (edge) => (edge.dataset.seams ? edge.dataset.seams.split(" ") : []);
  const sizeName = () => data.sizes[front];

  function dark() {
    edges().forEach((edge) => {
      edge.classList.remove("lit", "mate", "own");
      edge.setAttribute("aria-pressed", "false");
    });
    each(board, ".piece.lit", (piece) => piece.classList.remove("lit"));
    each(board, ".spot", (ring) => ring.remove());
  }
  function lightSeam(seam, side) {
    edges().forEach((edge) => {
      const sides = seamsOf(edge);
      if (sides.includes(seam + side)) edge.classList.add("own");
      if (sides.includes(seam + (side === "a" ? "b" : "a"))) edge.classList.add("mate");
    });
  }
  const pieceName = (number) => board.querySelector(`.piece[data-piece="${Number(number)}"] > title`).textContent;
  function seamWords(seam, side) {
    const one = data.seams[seam];
    const other = side === "a" ? "b" : "a";
    const mates = edges().filter((edge) => seamsOf(edge).includes(seam + other));
    const names = [...new Set(mates.map((edge) => `${pieceName(edge.dataset.piece)}: ${edge.dataset.name}`))];
    const line = make("p", `${one.name}: ${side ? `sewn to ${names.join(" and ")}. ` : ""}${one.sizes[sizeName()] || Object.values(one.sizes)[0] || ""}`);
    line.className = "mates";
    return line;
  }
  function tell(edge) {
    dark();
    edge.classList.add("lit");
    edge.setAttribute("aria-pressed", "true");
    const size = sizeName() ? `, size ${sizeName()}` : "";
    const head = make("p", `${pieceName(edge.dataset.piece)}${size}: ${edge.dataset.name}`);
    head.append(document.createElement("br"), make("strong", edge.dataset.length), " as sewn");
    if (edge.dataset.allowance) head.append(`; allowance ${edge.dataset.allowance}`);
    const lines = seamsOf(edge).map((one) => [one.slice(0, -1), one.slice(-1)]);
    lines.forEach(([seam, side]) => lightSeam(seam, side));
    told.replaceChildren(head, ...lines.map(([seam, side]) => seamWords(seam, side)));
  }
  function letGo() {
    kept = null;
    dark();
    told.replaceChildren(make("p", "Point at an edge, or tap it, for its length."));
  }
  const edgeOf = (event) => event.target.closest && event.target.closest(".edge");
  board.addEventListener("pointerover", (event) => {
    const edge = edgeOf(event);
    if (edge && !kept) tell(edge);
  });
  board.addEventListener("click", (event) => {
    const edge = edgeOf(event);
    if (!edge) return;
    kept = edge;
    tell(edge);
    edge.focus({ preventScroll: true });
  });
  board.addEventListener("focusin", (event) => {
    const edge = edgeOf(event);
    if (!edge) return;
    edges().forEach((one) => one.setAttribute("tabindex", one === edge ? "0" : "-1"));
    if (edge !== kept) kept = null;
    tell(edge);
  });
  function firstStop() {
    const all = edges();
    if (all.length && !all.some((edge) => edge.getAttribute("tabindex") === "0")) all[0].setAttribute("tabindex", "0");
  }
  function inView(edge) {
    const box = edge.getBBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    if (x < view[0] || y < view[1] || x > view[0] + view[2] || y > view[1] + view[3])
      look([x - view[2] / 2, y - view[3] / 2, view[2]]);
  }
  board.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const edge = edgeOf(event);
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    if (event.key in steps) {
      const [x, y] = steps[event.key];
      if (edge) {
        const all = edges();
        const next = all[(all.indexOf(edge) + x + y + all.length) % all.length];
        inView(next);
        next.focus({ preventScroll: true });
      } else look([view[0] + (x * view[2]) / 8, view[1] + (y * view[3]) / 8, view[2]]);
    } else if (event.key === "+" || event.key === "=") {
      const box = edge && edge.getBBox();
      if (box) zoom(1.3, box.x + box.width / 2, box.y + box.height / 2);
      else zoom(1.3);
    } else if (event.key === "-") zoom(1 / 1.3);
    else if (event.key === "0") look(whole);
    else if (event.key === "Escape") letGo();
    else if (edge && (event.key === "Enter" || event.key === " ")) { kept = edge; tell(edge); }
    else return;
    event.preventDefault();
  });

  // --- sizes -------------------------------------------------------------------------
  const boxes = document.querySelectorAll(".sizes input");
  function shown() {
    boxes.forEach((box) => each(board, `.nest[data-size="${Number(box.dataset.size)}"]`, (line) =>
      line.classList.toggle("hidden", !box.checked || Number(box.dataset.size) === front)));
  }
  // A template for the size in front too, so that it can come back.
  each(board, ".piece", (piece) => {
    const drawing = piece.querySelector(".front");
    if (!drawing || front < 0) return;
    if (!document.querySelector(`template[data-piece="${piece.dataset.piece}"]`)) return;
    const keep = document.createElement("template");
    Object.assign(keep.dataset, { piece: piece.dataset.piece, size: front });
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.append(piece.querySelector(".ground").cloneNode(true), drawing.cloneNode(true));
    keep.content.append(svg);
    board.after(keep);
  });
  function bring(size) {
    if (size < 0 || size === front || size >= data.sizes.length) return;
    front = size;
    each(board, ".piece", (piece) => {
      const number = Number(piece.dataset.piece);
      const kinds = document.querySelectorAll(`template[data-piece="${number}"]`);
      if (!kinds.length) return;
      each(piece, ".ground, .front", (old) => old.remove());
      const found = document.querySelector(`template[data-piece="${number}"][data-size="${size}"]`);
      if (!found) return;
      const take = (what) => document.importNode(found.content.querySelector(what), true);
      piece.querySelector(".nest").before(take(".ground"));
      [...piece.querySelectorAll(".nest")].at(-1).after(take(".front"));
    });
    each(document, "[data-about]", (about) => {
      const rows = about.querySelector(`template[data-size="${size}"]`);
      if (rows) about.querySelector("details tbody").replaceWith(document.importNode(rows.content.querySelector("tbody"), true));
      each(about, ".size bdi", (place) => { if (rows) place.textContent = data.sizes[size]; });
    });
    const choice = document.getElementById("front");
    if (choice) choice.value = String(size);
    letGo();
    shown();
    firstStop();
  }
  boxes.forEach((box) => box.addEventListener("change", shown));
  document.getElementById("front")?.addEventListener("change", (event) => bring(Number(event.target.value)));
  document.getElementById("before")?.addEventListener("change", (event) =>
    board.classList.toggle("seen", event.target.checked));

  // --- ways into the drawing ----------------------------------------------------------
  const come = () => {
    board.scrollIntoView({ block: "nearest" });
    board.focus({ preventScroll: true });
  };
  function ring(x, y) {
    const spot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    const size = { cx: x, cy: y, r: whole[2] / 90, class: "spot" };
    Object.entries(size).forEach(([key, value]) => spot.setAttribute(key, value));
    board.append(spot);
    const wide = whole[2] / 6;
    look([x - wide / 2, y - (wide * whole[3]) / whole[2] / 2, wide]);
  }
  const turn = (button) => { if (button.dataset.toSize) bring(Number(button.dataset.toSize)); };
  each(document, "[data-show-seam]", (button) => button.addEventListener("click", () => {
    turn(button);
    const seam = button.dataset.showSeam;
    letGo();
    lightSeam(seam, "a");
    const lit = edges().filter((edge) => edge.matches(".own, .mate"));
    kept = lit[0] || null;
    told.replaceChildren(seamWords(Number(seam), ""));
    look(whole);
    come();
  }));
  each(document, "[data-show-piece]", (button) => button.addEventListener("click", () => {
    turn(button);
    const piece = board.querySelector(`.piece[data-piece="${Number(button.dataset.showPiece)}"]`);
    letGo();
    to(piece.getBBox());
    come();
    const place = button.dataset.place;
    const edge = [...piece.querySelectorAll(".edge")].find((one) => one.dataset.name === place);
    if (edge) { kept = edge; tell(edge); } else piece.classList.add("lit");
    if (button.dataset.at) ring(...button.dataset.at.split(",").map(Number));
  }));
  each(document, ".copy", (button) => button.addEventListener("click", async () => {
    const code = button.parentElement.querySelector("code");
    try {
      await navigator.clipboard.writeText(code.textContent);
      button.textContent = "Copied";
    } catch {
      getSelection().selectAllChildren(code);
      button.textContent = "Marked: copy with the keyboard";
    }
  }));
  addEventListener("beforeprint", () => { look(whole); each(document, "details", (one) => { one.open = true; }); });
  addEventListener("resize", () => look(view));

  shown();
  firstStop();
  look(whole);
})();
