// A talk to all at once: the same words for everybody here, each with the last stride run (0 before the first).
import { announce } from "../announce.js";
import { el, press, refill, write } from "./dom.js";
import { mostCommon } from "./session.js";
import { say } from "./words.js";

const MOST = 6;

/** Bind the view; a wording used before tells all in one tap. */
export function bindTalk(part, session, go) {
  const form = part.querySelector("form");
  const choice = form.querySelector("select");
  const listeners = () => session.here.filter((id) => !session.of(id).isStopped && session.mayKeep(id, "feedback"));
  choice.addEventListener("change", show);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    tell(form.elements.words.value);
  });

  async function tell(text) {
    const how = form.querySelector("[name=how]:checked").value;
    const own = { feature: choice.value, words: text, how, understood: "not_asked" };
    const to = listeners();
    const made = to.map((id) => session.make("cue", id, { ...own, stride: session.of(id).lastStride }));
    const what = say("toldAll", { count: to.length, words: `“${text}”` });
    const isKept = made.length > 0 && (await session.act(what, made));
    part.querySelector("[data-fault]").hidden = isKept || !made.length;
    if (!isKept) return;
    announce(`${what}, ${say("saved")}`);
    go("run");
  }

  /** This reader's wordings of the point, today's first. */
  function wordings() {
    const mine = session.track.person;
    const today = [...session.folded.values()].flatMap(({ cues }) => cues).filter((cue) => cue.feature === choice.value && cue.by === mine);
    const phrases = session.features.get(choice.value)?.phrases ?? [];
    return [...new Set([...today.reverse().map((cue) => cue.words), ...phrases])].slice(0, MOST);
  }

  function show() {
    const to = listeners();
    write(part.querySelector("h2"), say("talkTo", { count: to.length }));
    part.querySelector("[data-empty]").hidden = to.length > 0;
    form.hidden = !to.length;
    const phrases = wordings().map((text) =>
      press(say("sayAgain", { words: `“${text}”` }), () => tell(text), { kind: "press press-plain press-track press-wide", "data-key": text }),
    );
    refill(part.querySelector("[data-phrases]"), phrases);
  }

  function open() {
    form.reset();
    part.querySelector("[data-fault]").hidden = true;
    const codes = new Set(listeners().flatMap((id) => session.codesFor(id)));
    const options = [...session.features.values()].filter(({ code }) => codes.has(code));
    choice.replaceChildren(...options.map((one) => el("option", { value: one.code }, one.label)));
    const common = mostCommon(listeners().map((id) => session.pointOf(id, session.of(id).lastStride + 1)).filter(Boolean));
    if (common) choice.value = common;
    show();
  }
  return { open };
}
