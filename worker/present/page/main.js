/* Wiring: buttons of the viewer, jumps from the text to the model and back, light and dark. */
const all = (selector, root = document) => [...root.querySelectorAll(selector)];
const pressed = (button, on) => button.setAttribute("aria-pressed", String(on));

function wireTheme() {
  const button = document.querySelector("#theme");
  button.hidden = false;
  const dark = () => document.documentElement.dataset.theme === "dark";
  if (!document.documentElement.dataset.theme) {
    document.documentElement.dataset.theme = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }
  const told = () => {
    button.textContent = dark() ? "Light" : "Dark";
  };
  button.addEventListener("click", () => {
    document.documentElement.dataset.theme = dark() ? "light" : "dark";
    told();
    window.viewer?.redraw();
  });
  told();
}

/** Buttons that leave the findings of one code alone; jumping to a finding brings all of them back. */
let showKind = () => {};

function wireKinds() {
  const group = document.querySelector(".kinds");
  if (!group) return;
  group.hidden = false;
  showKind = (code) => {
    for (const button of all("[data-kind]", group)) pressed(button, button.dataset.kind === code);
    for (const card of all("[data-of-kind]")) card.classList.toggle("aside", code !== null && card.dataset.ofKind !== code);
  };
  for (const button of all("[data-kind]", group)) {
    button.addEventListener("click", () => showKind(button.getAttribute("aria-pressed") === "true" ? null : button.dataset.kind));
  }
  for (const link of all(".links a")) link.addEventListener("click", () => showKind(null));
}

function wireLayers(viewer) {
  const tell = () => {
    for (const button of all("[data-layer]", viewer.root)) {
      const how = viewer.layers[button.dataset.layer];
      button.dataset.how = how;
      button.querySelector(".how").textContent = WORD[how];
      button.disabled = viewer.bodies(button.dataset.layer).length === 0;
    }
  };
  for (const button of all("[data-layer]", viewer.root)) {
    button.addEventListener("click", () => {
      viewer.layers[button.dataset.layer] = NEXT[viewer.layers[button.dataset.layer]];
      tell();
      viewer.redraw();
    });
  }
  return tell;
}

function wireSection(viewer) {
  const [axis, share, told] = ["#section-axis", "#section-share", "#section-told"].map((s) => viewer.root.querySelector(s));
  const change = () => {
    viewer.section = { axis: Number(axis.value), share: Number(share.value) / 1000 };
    share.disabled = viewer.section.axis < 0;
    viewer.redraw();
    viewer.plane();
    const at = (viewer.sectionAt / viewer.scene.scale).toFixed(viewer.scene.scale === 1 ? 1 : 3);
    told.textContent = viewer.section.axis < 0 ? "" : `${"XYZ"[viewer.section.axis]} ${at} ${viewer.scene.unit}`;
  };
  axis.addEventListener("input", change);
  share.addEventListener("input", change);
  return change;
}

function wireSetups(viewer, tell) {
  const choose = (id) => {
    viewer.chooseSetup(id);
    for (const button of all("[data-setup-tab]", viewer.root)) pressed(button, button.dataset.setupTab === id);
    tell();
  };
  for (const button of all("[data-setup-tab]", viewer.root)) {
    button.addEventListener("click", () => {
      choose(button.dataset.setupTab);
      viewer.point([], null);
    });
  }
  return choose;
}

function wireJumps(viewer, choose, tell) {
  const mark = (element) => {
    for (const other of all(".chosen-row")) other.classList.remove("chosen-row");
    element?.classList.add("chosen-row");
  };
  const showFinding = (index) => {
    const finding = viewer.scene.findings[index];
    if (finding.setup) choose(finding.setup);
    viewer.point(finding.features, finding.at, index);
    const card = document.querySelector(`#finding-${index}`);
    if (card?.classList.contains("aside")) showKind(null);
    mark(card);
  };
  for (const button of all("[data-show-finding]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      showFinding(Number(button.dataset.showFinding));
      reveal(viewer.root);
    });
  }
  for (const button of all("[data-show-setup]")) {
    button.hidden = !viewer.scene.setups.some((s) => s.id === button.dataset.showSetup);
    button.addEventListener("click", () => {
      choose(button.dataset.showSetup);
      viewer.point([], null);
      viewer.home();
      reveal(viewer.root);
    });
  }
  for (const button of all("[data-show-feature]")) {
    button.disabled = false;
    button.addEventListener("click", () => {
      const id = button.dataset.showFeature;
      const home = viewer.scene.features[id]?.setup;
      if (home && viewer.scene.setups.some((s) => s.id === home)) choose(home);
      viewer.point([id], null);
      mark(button.closest("tr"));
      reveal(viewer.root);
    });
  }
  for (const button of all("[data-show-step]")) {
    button.disabled = false;
    button.addEventListener("click", () => {
      const [setup, step] = JSON.parse(button.dataset.showStep);
      choose(setup);
      viewer.step = step;
      viewer.layers = { ...viewer.layers, removal: "solid", to_be: "glass", as_is: "off" };
      tell();
      viewer.point([], null);
      mark(button.closest("tr"));
      reveal(viewer.root);
    });
  }
  viewer.root.addEventListener("pin", (event) => {
    showFinding(event.detail);
    reveal(document.querySelector(`#finding-${event.detail}`));
  });
}

/** Scroll only when it is out of sight. */
function reveal(element) {
  const box = element.getBoundingClientRect();
  if (box.top < 0 || box.bottom > innerHeight) element.scrollIntoView({ block: "nearest" });
}

async function start() {
  wireTheme();
  wireKinds();
  const root = document.querySelector("#model");
  if (!root) return;
  const scene = JSON.parse(document.querySelector("#scene").textContent);
  const buffer = await unpack(document.querySelector("#meshes").textContent);
  root.hidden = false;
  document.body.classList.add("has-model");
  const viewer = (window.viewer = new Viewer(root, scene, buffer));
  const tell = wireLayers(viewer);
  const choose = wireSetups(viewer, tell);
  wireSection(viewer)();
  wireJumps(viewer, choose, tell);
  for (const button of all("[data-look]", root)) {
    button.addEventListener("click", () => viewer.look(...button.dataset.look.split(" ").map(Number)));
  }
  root.querySelector("#fit").addEventListener("click", () => {
    viewer.step = null;
    viewer.point([], null);
    viewer.home();
    tell();
  });
  choose(scene.setups[0].id);
  pressed(all("[data-setup-tab]", root)[0], true);
  tell();
  root.dataset.ready = "true";
}

start().catch((error) => {
  const root = document.querySelector("#model");
  document.body.classList.remove("has-model");
  if (root) root.hidden = true;
  document.querySelector("#no-model").hidden = false;
  document.querySelector("#no-model .why").textContent = error.message;
});
