// A range over the moments of a recipe, which changes the picture of the circuit. Without this file
// the links below the picture lead from moment to moment.

for (const figure of document.querySelectorAll(".scrub")) {
  const words = JSON.parse(figure.dataset.words);
  const source = figure.querySelector("source");
  const picture = figure.querySelector("img");
  const caption = figure.querySelector("figcaption");
  const last = words.length - 1;

  const range = document.createElement("input");
  range.type = "range";
  range.min = 0;
  range.max = last;
  range.value = last;
  range.id = `scrub-${figure.dataset.wide.length}`;
  const label = document.createElement("label");
  label.htmlFor = range.id;
  label.textContent = "Moment";
  caption.before(label, range);

  const isUpright = () => matchMedia("(max-width: 40em)").matches;
  const url = (moment) => (isUpright() ? figure.dataset.upright : figure.dataset.wide) + moment;
  let waiting = 0;

  function show() {
    const moment = Number(range.value);
    caption.textContent = words[moment];
    range.setAttribute("aria-valuetext", words[moment]);
    clearTimeout(waiting);
    // The new picture is loaded first, so that the old one stays until it can be replaced.
    waiting = setTimeout(async () => {
      const next = new Image();
      next.src = url(moment);
      try {
        await next.decode();
      } catch {
        return;
      }
      if (Number(range.value) !== moment) return;
      source.srcset = figure.dataset.upright + moment;
      picture.src = figure.dataset.wide + moment;
      picture.alt = `The circuit, ${words[moment][0].toLowerCase()}${words[moment].slice(1)}: every part in the colour of the old fluid in it.`;
      if (moment < last) new Image().src = url(moment + 1);
    }, 60);
  }

  range.addEventListener("input", show);
}
