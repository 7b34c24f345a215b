// Brings the parts of a page to life: an element that says data-module="name" is handed to start() of name.js.

const started = new WeakSet();

// Whoever leaves a page while a part of it is on its way has not met a fault.
let leaving = false;
addEventListener("beforeunload", () => { leaving = true; });

function start(root) {
  const found = [...root.querySelectorAll("[data-module]")];
  if (root.matches?.("[data-module]")) found.unshift(root);
  for (const element of found) {
    const name = element.dataset.module;
    if (started.has(element) || !/^[a-z-]+$/.test(name)) continue;
    started.add(element);
    import(`./${name}.js`).then((module) => module.start(element)).catch((error) => { if (!leaving) throw error; });
  }
}

start(document);
document.body.addEventListener("htmx:load", (event) => start(event.detail.elt));

// An answer that the application could not give stands at the top: go there, so that nobody misses it.
document.body.addEventListener("htmx:responseError", () => {
  document.getElementById("said").scrollIntoView({ block: "nearest" });
});
document.body.addEventListener("htmx:sendError", () => {
  const said = document.getElementById("said");
  said.textContent = "The application does not answer: is it still running? Nothing was changed.";
  said.className = "message";
});

// A switch is turned by the space bar as well, though it is a link to the page with one pull more or less.
document.body.addEventListener("keydown", (event) => {
  if (event.key === " " && event.target.matches?.('a[role="switch"]')) {
    event.preventDefault();
    event.target.click();
  }
});
