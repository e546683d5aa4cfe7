"use strict";
(() => {
  // Base64 keeps the answers from being read by accident; it hides nothing.
  const held = JSON.parse(atob(document.getElementById("held").textContent.trim()));
  const key = held.key;
  const at = (id) => document.getElementById(id);
  const marks = [];

  // Scoring: the same as in asfound.drill.score, held to it by a test.
  const OTHER = "something else";
  const says = (member, mark, by) =>
    by === "rule" ? mark.what === member.rule && member.wide.includes(mark.at)
      : by === "topic" ? mark.what === member.topic && member.near.includes(mark.at)
        : mark.what !== OTHER && (member.near.includes(mark.at)
          || (key.topics[mark.what] === member.topic && member.wide.includes(mark.at)));
  const isAsked = (mark) => key.questions.some((one) => says(one, mark, "rule") || says(one, mark, "topic"));
  const gradeOf = (danger, mark) => {
    if (!mark.grade) return "not given";
    const given = key.grades.indexOf(mark.grade), meant = key.dangers[danger].grade;
    return given === meant ? "right" : given > meant ? "too low" : "too high";
  };
  const fit = (given) => {
    const fitted = new Map(), taken = new Set();
    for (const by of ["rule", "topic", "place"]) {
      given.forEach((mark, number) => {
        if (fitted.has(number) || (by === "place" && isAsked(mark))) return;
        const fits = key.dangers.map((_, place) => place)
          .filter((place) => key.dangers[place].members.some((one) => says(one, mark, by)));
        const own = (place) => key.dangers[place].members.some((one) => one.own.includes(mark.at));
        fits.sort((one, two) => Number(own(two)) - Number(own(one)));
        const free = fits.filter((place) => !taken.has(place));
        if (!free.length && (!fits.length || by === "place")) return;
        const place = (free.length ? free : fits)[0];
        fitted.set(number, { danger: place, by, again: !free.length });
        taken.add(place);
      });
    }
    return fitted;
  };
  const score = (given, chosen) => {
    const fitted = fit(given), numbers = given.map((_, number) => number);
    const found = numbers.filter((n) => fitted.has(n) && !fitted.get(n).again).map((n) => ({
      danger: fitted.get(n).danger, mark: n, by: fitted.get(n).by, grade: gradeOf(fitted.get(n).danger, given[n]),
    }));
    const loose = numbers.filter((n) => !fitted.has(n));
    const asked = loose.filter((n) => isAsked(given[n]));
    const told = loose.filter((n) => !asked.includes(n) && (given[n].said || given[n].what === OTHER));
    const order = found.map((one) => key.dangers[one.danger].grade), pairs = [];
    order.forEach((one, place) => order.slice(place + 1).forEach((two) => { if (one !== two) pairs.push(one < two); }));
    const worst = Math.min(...key.dangers.map((one) => one.grade));
    const grades = {};
    for (const word of ["right", "too low", "too high", "not given"]) grades[word] = found.filter((one) => one.grade === word).length;
    let check = null;
    if (key.checks.length) {
      const ranks = key.checks.map((one) => one.rank), best = ranks.indexOf(Math.min(...ranks)) + 1;
      const valid = chosen >= 1 && chosen <= ranks.length;
      check = { chosen: valid ? chosen : null, rank: valid ? ranks[chosen - 1] : null, best };
    }
    return {
      found, missed: key.dangers.map((_, n) => n).filter((n) => !found.some((one) => one.danger === n)),
      false_alarms: loose.filter((n) => !asked.includes(n) && !told.includes(n)), questions: asked, told,
      again: numbers.filter((n) => fitted.has(n) && fitted.get(n).again), grades,
      order: { pairs: pairs.length, right: pairs.filter((one) => one).length },
      first: key.dangers.length && given.length ? fitted.has(0) && key.dangers[fitted.get(0).danger].grade === worst : null,
      check,
    };
  };

  const words = (mark) => `${mark.at}: ${held.titles[mark.what]}${mark.said ? ` ("${mark.said}")` : ""}${mark.grade ? `, ${mark.grade}` : ""}`;
  const chosen = () => { const one = document.querySelector("input[name=next]:checked"); return one ? Number(one.value) : null; };
  const plural = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;
  const tell = (text) => { at("told").textContent = text; };

  const button = (text, hint, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", hint);
    made.addEventListener("click", act);
    return made;
  };
  const write = () => {
    const answers = { exercise: held.exercise, marks: marks.map((one) => Object.fromEntries(Object.entries(one).filter(([, value]) => value))) };
    if (chosen() !== null) answers.next = chosen();
    at("answers-text").value = JSON.stringify(answers, null, 1);
  };
  const show = () => {
    at("marks").replaceChildren(...marks.map((mark, number) => {
      const item = document.createElement("li"), said = words(mark);
      item.textContent = `${said} `;
      const row = document.createElement("div");
      const move = (to) => { marks.splice(to, 0, ...marks.splice(number, 1)); show(); tell(`Moved: ${said}.`); };
      if (number) row.append(button("Up", `Up: ${said}`, () => move(number - 1)));
      if (number + 1 < marks.length) row.append(button("Down", `Down: ${said}`, () => move(number + 1)));
      row.append(button("Take out", `Take out: ${said}`, () => { marks.splice(number, 1); show(); tell(`Taken out: ${said}.`); }));
      item.append(row);
      return item;
    }));
    for (const here of document.querySelectorAll(".mark-here"))
      here.closest(".place").classList.toggle("marked", marks.some((mark) => mark.at === here.dataset.tag));
    write();
  };
  const summary = (result) => {
    const lines = [`Found ${result.found.length} of ${key.dangers.length}; missed ${result.missed.length}; ${plural(result.false_alarms.length, "false alarm")}.`];
    const topic = result.found.filter((one) => one.by === "topic").length;
    if (topic) lines.push(`${topic} of those found by topic, not by the kind of danger.`);
    const place = result.found.filter((one) => one.by === "place").length;
    if (place) lines.push(`${place} of those at the right place, under another kind; the difference stands with each.`);
    for (const n of result.told) lines.push(`For the trainer, not scored: ${words(marks[n])}.`);
    for (const n of result.false_alarms) lines.push(`False alarm: ${words(marks[n])}. No rule finds this there in what is recorded; it is no all-clear.`);
    for (const n of result.questions) lines.push(`Open question, neither right nor wrong: ${words(marks[n])}.`);
    if (result.again.length) lines.push(`${plural(result.again.length, "mark")} on what another mark had already.`);
    if (result.found.length) lines.push(`Grade right ${result.grades.right}, too low ${result.grades["too low"]}, too high ${result.grades["too high"]}, not given ${result.grades["not given"]}.`);
    if (result.order.pairs) lines.push(`Order of danger: ${result.order.right} of ${plural(result.order.pairs, "pair")} the worse one first.`);
    if (result.first !== null) lines.push(result.first ? "First: one of the worst grade here." : "First: not one of the worst grade here.");
    if (result.check) {
      const about = "Next check, which is about what is open in the record and not about the dangers:";
      const best = held.checks[result.check.best - 1], mine = result.check.chosen && held.checks[result.check.chosen - 1];
      if (!mine) lines.push(`${about} none chosen. ${best.more}`);
      else if (mine === best) lines.push(`${about} the one that counts most. ${mine.settles}`);
      else lines.push(`${about} another counts more. ${mine.settles} ${best.more}`);
      if (mine) lines.push(...mine.before.map((said) => `Before the check you chose. ${said}`));
      if (mine !== best) lines.push(...best.before.map((said) => `Before the check that counts most. ${said}`));
    }
    return lines;
  };

  const made = (name, text, ...inside) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    element.append(...inside);
    return element;
  };
  const answer = () => {
    at("made").textContent = held.made;
    at("all-answers").replaceChildren(...held.answers.map((one, n) => {
      const rows = one.said.map(([word, text]) => {
        const row = made("div", "", made("dt", word), made("dd", text));
        if (word === "Caution") row.className = "caution";
        return row;
      });
      const verdict = made("p", "");
      verdict.className = "verdict";
      const whole = made("article", "", made("h3", one.title), verdict, made("dl", "", ...rows));
      whole.className = "danger";
      whole.id = `danger-${n}`;
      return whole;
    }));
    if (!held.answers.length)
      at("all-answers").append(made("p", "No rule finds a defect in what is recorded. That is no all-clear."));
  };

  for (const here of document.querySelectorAll(".mark-here")) here.addEventListener("click", () => {
    const place = here.closest(".place"), link = at("back").querySelector("a");
    at("at").value = here.dataset.tag;
    link.href = `#${place.id}`;
    link.textContent = `Back to ${place.querySelector("h3").textContent}`;
    at("back").hidden = false;
    at("marking").scrollIntoView();
    at("what").focus({ preventScroll: true });
  });
  at("mark").addEventListener("submit", (event) => {
    event.preventDefault();
    if (!at("at").value) { tell("Choose where it is."); at("at").focus(); return; }
    if (at("what").value === OTHER && !at("said").value.trim()) { tell("Say it in your own words."); at("said").focus(); return; }
    if (!at("what").value) { tell("Choose what kind of danger it is."); at("what").focus(); return; }
    const mark = { at: at("at").value, what: at("what").value, grade: at("grade").value };
    if (at("said").value.trim()) mark.said = at("said").value.trim();
    marks.push(mark);
    at("what").value = at("said").value = at("grade").value = "";
    show();
    tell(`Added: ${words(mark)}.`);
  });
  for (const one of document.querySelectorAll("input[name=next]")) one.addEventListener("change", write);
  at("score").addEventListener("click", () => {
    const result = score(marks, chosen());
    at("summary").replaceChildren(...summary(result).map((line) => {
      const item = document.createElement("li");
      item.textContent = line;
      return item;
    }));
    answer();
    key.dangers.forEach((_, n) => {
      const place = at(`danger-${n}`), found = result.found.find((one) => one.danger === n);
      place.classList.toggle("found", Boolean(found));
      place.classList.toggle("missed", !found);
      place.querySelector(".verdict").textContent = found
        ? `${found.by === "place" ? `Right place, other kind. No rule finds what was marked here in what is recorded; it is: ${held.answers[n].title}. ` : ""}Found: ${words(marks[found.mark])}. Grade ${found.grade}; it is ${key.grades[key.dangers[n].grade]}.` : "Missed.";
    });
    at("result").hidden = false;
    at("answers").hidden = false;
    at("result-title").focus();
  });

  document.documentElement.classList.add("scripting");
  window.drill = { score };
  show();
})();
