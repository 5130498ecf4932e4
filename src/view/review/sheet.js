
"use strict";
(() => {
  // Marks what belongs together: groups of the message, levels of the diagram, rows
  // of the table. Every text is in the page already; this only shows it.
  const all = (what) => Array.from(document.querySelectorAll(what));
  const svg = document.querySelector("svg.aero");
  const readout = document.getElementById("readout");
  const groups = all(".group");
  const wanted = (one) => (one.dataset.levels || one.dataset.level || "").split(" ").filter(Boolean);
  const links = all("a.m");
  const target = (link) => document.getElementById(link.getAttribute("href").slice(1));
  let kept = false;
  let guides = [];

  document.documentElement.classList.add("live");
  groups.forEach((group, i) => {
    group.dataset.meaning = group.title;
    group.removeAttribute("title");
    group.tabIndex = i === 0 ? 0 : -1;
  });

  const clear = () => {
    all(".on, .here").forEach((one) => one.classList.remove("on", "here"));
    guides.forEach((guide) => guide.remove());
    guides = [];
    document.documentElement.classList.remove("marked");
  };

  const guide = (level) => {
    const tick = svg.querySelector("#level-" + level + " .tick");
    if (tick) {
      const box = tick.getBBox();
      const y = box.y + box.height / 2;
      const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
      line.setAttribute("class", "guide");
      line.setAttribute("d", "M46 " + y + "H1260");
      svg.append(line);
      guides.push(line);
    }
  };

  const say = (levels, group) => {
    const parts = [];
    readout.textContent = "";
    if (group) {
      const name = document.createElement("b");
      name.textContent = group.textContent;
      readout.append(name, " " + group.dataset.meaning);
      readout.append(document.createElement("br"));
    }
    levels.forEach((level) => {
      const row = document.getElementById("row-" + level);
      if (row) { parts.push(row.dataset.words); }
    });
    readout.append(parts.join(" \u2014 "));
  };

  const show = (levels, group) => {
    clear();
    levels.forEach((level) => {
      ["row-", "level-"].forEach((kind) => {
        const one = document.getElementById(kind + level);
        if (one) { one.classList.add("on"); }
      });
      if (svg) { guide(level); }
    });
    groups.forEach((one) => {
      if (wanted(one).some((level) => levels.includes(level))) { one.classList.add("on"); }
    });
    if (group) { group.classList.add("on", "here"); }
    links.forEach((link) => {
      const to = target(link);
      if (to) { if (to.classList.contains("on")) { link.classList.add("on"); } }
    });
    say(levels, group);
    document.documentElement.classList.add("marked");
  };

  const from = (place) => {
    const link = place.closest("a.m");
    const group = link ? target(link) : place.closest(".group");
    if (group) { return [wanted(group), group]; }
    const row = place.closest("tr[data-level]");
    return row ? [wanted(row), null] : null;
  };

  // The marks of the diagram are small: the nearest one is meant.
  const spots = svg ? all("svg.aero .level > :not(title)").map((shape) => {
    const box = shape.getBBox();
    const level = shape.parentNode.dataset.level;
    return { level: level, x: box.x + box.width / 2, y: box.y + box.height / 2 };
  }) : [];
  const nearest = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    let best = 22;
    let level = null;
    spots.forEach((spot) => {
      const away = Math.hypot(spot.x - at.x, spot.y - at.y);
      if (best > away) { best = away; level = spot.level; }
    });
    return level;
  };

  const pointed = (event) => {
    if (svg) {
      if (svg.contains(event.target)) {
        const level = nearest(event);
        return level === null ? null : [[level], null];
      }
    }
    return from(event.target);
  };
  const follow = (event) => {
    if (kept) { return; }
    const found = pointed(event);
    if (found) { show(found[0], found[1]); }
  };
  document.addEventListener("pointerover", follow);
  if (svg) { svg.addEventListener("pointermove", follow); }
  document.addEventListener("focusin", (event) => {
    const found = from(event.target);
    if (found) { if (event.target.matches(":focus-visible")) { kept = false; show(found[0], found[1]); } }
  });
  document.addEventListener("click", (event) => {
    if ([event.ctrlKey, event.metaKey, event.shiftKey, event.detail === 0].includes(true)) { return; }
    const found = pointed(event);
    if (!found) { return; }
    if (event.target.closest(".group")) { event.preventDefault(); }
    show(found[0], found[1]);
    kept = true;
    readout.append(" \u2014 kept; Escape lets go");
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") { kept = false; clear(); return; }
    const i = groups.indexOf(document.activeElement);
    if (i === -1) { return; }
    const step = { ArrowRight: i + 1, ArrowLeft: i - 1, ArrowDown: i + 1, ArrowUp: i - 1, Home: 0, End: groups.length - 1 };
    const next = groups[step[event.key]];
    if (next) {
      event.preventDefault();
      groups[i].tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
    }
  });

  // A meaning that a link leads to lies in a folded list.
  const unfold = () => {
    const to = document.getElementById(location.hash.slice(1));
    const list = to ? to.closest("details") : null;
    if (list) { list.open = true; to.scrollIntoView({ block: "center" }); }
  };
  addEventListener("hashchange", unfold);
  unfold();
})();
