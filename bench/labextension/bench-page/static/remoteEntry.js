// Pages that open alive.  A page of the workbook (a notebook with a cell tagged `panel`) is run when it
// is opened.  Until a cell has run, its stored output is dimmed and says whose it is; when the kernel is
// gone, so do the panels that no longer answer, with one touch to run the page again.
//
// Written by hand, with no build: JupyterLab loads this file and asks the container at its end for the
// plug-in.  Nothing here writes: only Save in a panel does.
"use strict";

(() => {
  const LOOK = `
.bench-banner{display:flex;flex-wrap:wrap;gap:6px 14px;align-items:center;padding:8px 14px;background:#fff6df;color:#26241f;
  border-bottom:2px solid #8a5a00;font:15px/1.4 system-ui,"Segoe UI",Roboto,"DejaVu Sans",sans-serif}
.bench-banner p{margin:0;flex:1 1 300px}
.bench-again{min-height:40px;padding:4px 16px;border:0;border-radius:4px;background:#7a3b2e;color:#fff;font:inherit;font-weight:600;cursor:pointer}
.bench-again:focus-visible{outline:3px solid #0072b2;outline-offset:1px}
.bench-stored .jp-OutputArea-child{opacity:.45}
.bench-stored .jp-Cell-outputArea:has(.jp-OutputArea-child)::before{content:"\\25B3  " var(--bench-whose);display:block;padding:2px 6px;
  color:#8a5a00;font:600 13px/1.4 system-ui,"Segoe UI",Roboto,"DejaVu Sans",sans-serif}
.bench-dead .jp-Cell-outputWrapper{opacity:.45}
.bench-note{margin:6px 0 6px 70px;border:2px solid #8a5a00;border-radius:6px;overflow:hidden}
.bench-note .bench-banner{border:0}
[data-bench-page=live] .bench-run-hint{display:none}`;

  const GONE =
    "▲ The panels on this page no longer answer: the program behind it was restarted or has stopped. " +
    "What was saved is safe; what was entered since then is not.";
  const RECONNECTING = "▲ The connection to the workbook is interrupted; trying again …";
  const CUT_OFF =
    "▲ The workbook cannot be reached, so nothing can be saved from here. If it was closed, open it " +
    "again and use the new page.";

  const STALLED = "▲ This takes longer than usual; the program behind the page may not have started. ";
  const PATIENCE_MS = 30_000; // without a step forward

  let shared = null; // JupyterLab's own modules, by name and version

  async function take(name) {
    const [version] = Object.values(shared[name]);
    return (await version.get())();
  }

  const isTagged = (cell, tag) => (cell.model.getMetadata("tags") || []).includes(tag);
  const isCode = cell => cell.model.type === "code";

  /** Say of which item the stored answers of a page are, as its set-up left it written. */
  function findOwner(cells) {
    const outputs = cells.filter(cell => isTagged(cell, "setup")).flatMap(cell => cell.model.outputs.toJSON());
    for (const output of outputs) {
      const html = [output.data?.["text/html"] ?? ""].flat().join("");
      const named = new DOMParser().parseFromString(html, "text/html").querySelector("[data-bench-title]");
      if (named) return { title: named.dataset.benchTitle, isSample: named.dataset.benchSample === "yes" };
    }
    return null;
  }

  function sayOwner(owner) {
    if (!owner) return "stored earlier, maybe for another item";
    return owner.isSample ? `stored example of ${owner.title}: not your item` : `stored earlier, for ${owner.title}`;
  }

  function makeBanner(words, label, touch) {
    const banner = document.createElement("div");
    banner.className = "bench-banner";
    const said = document.createElement("p");
    said.setAttribute("role", "status");
    said.textContent = words;
    banner.append(said);
    if (label) {
      const button = document.createElement("button");
      button.className = "bench-again";
      button.textContent = label;
      button.addEventListener("click", touch);
      banner.append(button);
    }
    return banner;
  }

  /** Wait until a page is in sight for the first time. */
  function isSeen(panel) {
    return new Promise(resolve => {
      const watch = new IntersectionObserver(entries => {
        if (!entries.some(entry => entry.isIntersecting)) return;
        watch.disconnect();
        resolve();
      });
      watch.observe(panel.node);
      panel.disposed.connect(() => {
        watch.disconnect();
        resolve();
      });
    });
  }

  /** One open page: which of its cells are stored, dead or live, and what the reader is told of it. */
  class LivePage {
    constructor(panel, { NotebookActions, Widget }) {
      this.panel = panel;
      this.actions = NotebookActions;
      this.session = panel.sessionContext;
      this.run_number = 0; // goes up whenever the run under way is of no use any more
      this.running = "Starting this page …";
      this.connection = "connected";
      this.head = new Widget();
      panel.contentHeader.addWidget(this.head);
      this.sizer = new ResizeObserver(() => this.fitHead()); // words wrap on a narrow window
      for (const cell of this.codeCells()) cell.node.classList.add("bench-stored");
      this.whose = sayOwner(findOwner(this.codeCells()));
      panel.node.style.setProperty("--bench-whose", JSON.stringify(this.whose));
      this.session.statusChanged.connect((_, status) => {
        if (["restarting", "autorestarting", "dead", "terminating"].includes(status)) this.mourn();
      });
      this.session.kernelChanged.connect((_, { oldValue, newValue }) => {
        this.connection = newValue?.connectionStatus ?? "connected"; // without a kernel there is nothing to reach
        if (oldValue) this.mourn();
      });
      this.session.connectionStatusChanged.connect((_, status) => {
        this.connection = status;
        this.show();
      });
      this.show();
    }

    codeCells() {
      return this.panel.content.widgets.filter(isCode);
    }

    /** Run the page from its top; what is entered in its panels begins anew. */
    async run() {
      const number = ++this.run_number;
      const cells = this.codeCells();
      let fine = true;
      for (const [done, cell] of cells.entries()) {
        if (!fine && !isTagged(cell, "panel")) continue; // it may rest on what failed; a panel does not
        this.running = `Bringing this page up to date: ${done + 1} of ${cells.length} …`;
        this.show();
        const ran = await this.actions.runCells(this.panel.content, [cell], this.session);
        if (number !== this.run_number || this.panel.isDisposed) return;
        fine = fine && ran;
        if (!ran && isTagged(cell, "setup")) break;
      }
      this.running = "";
      this.panel.context.model.dirty = false; // reading changed nothing that anybody should be asked to keep
      this.show();
    }

    /** Run the page again, on a new kernel if there is none. */
    async runAgain() {
      const kernel = this.session.session?.kernel;
      if (!kernel) await this.session.changeKernel({ name: this.session.kernelPreference.name || "python3" });
      else if (kernel.status === "dead") await this.session.restartKernel();
      await this.run();
    }

    /** Offer a way out if the step that is under way does not end. */
    watch() {
      const step = this.running;
      if (this.watched === step) return;
      this.watched = step;
      setTimeout(() => {
        if (this.running !== step || this.panel.isDisposed) return;
        this.stalled = step;
        this.show();
      }, PATIENCE_MS);
    }

    /** Leave the run that does not end, with its kernel if there is one, and run the page on a fresh one. */
    async startAnew() {
      this.run_number++;
      this.running = "Starting this page anew …";
      this.show();
      if (this.session.session?.kernel) await this.session.restartKernel();
      await this.runAgain();
    }

    /** Take note that a cell is being run: what it shows from now on is live. */
    greet(cell) {
      if (!isCode(cell)) return;
      cell.node.classList.remove("bench-stored", "bench-dead");
      cell.node.querySelector(":scope > .bench-note")?.remove();
      cell.node.querySelector(".jp-Cell-outputWrapper").inert = false;
      this.show();
    }

    /** Take note that the kernel is gone, and with it all that the cells had to say. */
    mourn() {
      this.run_number++;
      this.running = "";
      for (const cell of this.codeCells()) {
        if (cell.node.matches(".bench-stored, .bench-dead") || !cell.model.outputs.length) continue;
        cell.node.classList.add("bench-dead");
        const place = cell.node.querySelector(".jp-Cell-outputWrapper");
        if (!place.querySelector(".bench")) continue;
        place.inert = true;
        const note = document.createElement("div");
        note.className = "bench-note";
        note.append(makeBanner(GONE, "Run this page again", () => this.runAgain()));
        place.before(note);
      }
      this.show();
    }

    /** Show what the reader must know of this page, above it; nothing if all of it is live. */
    show() {
      const marked = name =>
        this.codeCells().some(cell => cell.node.classList.contains(name) && cell.model.outputs.length);
      let state, banner;
      if (this.connection === "disconnected") {
        const again = () => this.session.session?.kernel?.reconnect();
        [state, banner] = ["cut-off", [CUT_OFF, "Connect again", again]];
      } else if (this.connection === "connecting" && !marked("bench-stored")) {
        [state, banner] = ["reconnecting", [RECONNECTING]];
      } else if (this.running) {
        const words = `${this.running} Dimmed: ${this.whose}.`;
        const start = () => this.startAnew();
        const isStalled = this.stalled === this.running;
        [state, banner] = ["running", isStalled ? [STALLED + words, "Start the page anew", start] : [words]];
        this.watch();
      } else if (marked("bench-dead")) {
        [state, banner] = ["dead", [GONE, "Run this page again", () => this.runAgain()]];
      } else if (marked("bench-stored")) {
        const words = `▲ What is dimmed below has not been run: ${this.whose}.`;
        [state, banner] = ["stored", [words, "Run this page", () => this.runAgain()]];
      } else {
        state = "live";
      }
      this.panel.node.dataset.benchPage = state;
      this.head.node.replaceChildren(...(banner ? [makeBanner(...banner)] : []));
      this.head.setHidden(!banner);
      this.sizer.disconnect();
      if (banner) this.sizer.observe(this.head.node.firstChild);
      this.fitHead();
    }

    /** Give the head the height of its words: JupyterLab's layout asks for it. */
    fitHead() {
      this.head.node.style.minHeight = `${this.head.node.firstChild?.offsetHeight ?? 0}px`;
      this.panel.contentHeader.fit();
    }
  }

  async function makePlugin() {
    const { INotebookTracker, NotebookActions } = await take("@jupyterlab/notebook");
    const { Widget } = await take("@lumino/widgets");
    const pages = new Map(); // by the notebook that a panel holds

    async function open(panel) {
      await panel.context.ready;
      if (!panel.content.widgets.some(cell => isCode(cell) && isTagged(cell, "panel"))) {
        panel.node.dataset.benchPage = "plain"; // the checks, or a notebook of the reader's own
        return;
      }
      const page = new LivePage(panel, { NotebookActions, Widget });
      pages.set(panel.content, page);
      panel.disposed.connect(() => pages.delete(panel.content));
      await panel.sessionContext.ready;
      await isSeen(panel); // else every tab that was left open would run at once when the window is opened again
      if (!panel.isDisposed) await page.run();
    }

    /** Follow a panel's link to another page in this window; one that is open already is run again. */
    async function follow(event, app, tracker) {
      const link = event.target.closest?.(".bench a[href$='.ipynb']");
      if (!link || !tracker.currentWidget) return;
      event.preventDefault();
      const folder = tracker.currentWidget.context.path.replace(/[^/]*$/, "");
      const path = folder + link.getAttribute("href");
      const before = [...pages.values()].find(page => page.panel.context.path === path);
      await app.commands.execute("docmanager:open", { path });
      await before?.run(); // another item may be at hand since
    }

    return {
      id: "bench-page:plugin",
      description: "Runs a page of the workbook when it is opened.",
      autoStart: true,
      requires: [INotebookTracker],
      activate: (app, tracker) => {
        const look = document.createElement("style");
        look.textContent = LOOK;
        document.head.append(look);
        NotebookActions.executionScheduled.connect((_, { notebook, cell }) => pages.get(notebook)?.greet(cell));
        document.addEventListener("click", event => follow(event, app, tracker));
        tracker.forEach(open);
        tracker.widgetAdded.connect((_, panel) => open(panel));
      },
    };
  }

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["bench-page"] = {
    init: scope => {
      shared = scope;
    },
    get: async () => {
      const plugin = await makePlugin();
      return () => ({ __esModule: true, default: plugin });
    },
  };
})();
