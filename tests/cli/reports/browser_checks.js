// SPDX-License-Identifier: MIT
// Put behind a page's own scripts by in_browser.sh: uses the page as a person would and writes what it
// found into <html data-checks="…">, a word for each check that failed.
(async function () {
  const root = document.documentElement, failed = [];
  const check = (name, holds) => { if (!holds) failed.push(name); };
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));
  const $ = (selector) => document.querySelector(selector);
  const key = (element, name) => element.dispatchEvent(new KeyboardEvent('keydown', {key: name, bubbles: true}));
  const axis = () => [...document.querySelectorAll('#plot-flow .dygraph-axis-label-x')].map((e) => e.textContent).join();
  const picture = (k) => document.querySelectorAll('.beds canvas')[k].toDataURL();
  const pictures = document.querySelectorAll('.beds canvas').length;

  async function changes(name, look, action) {
    const before = look();
    action();
    await wait(600);
    check(name, look() !== before);
  }

  // Contrast after WCAG 2.1, success criterion 1.4.3 (text) and 1.4.11 (graphics).
  function luminance(hex) {
    const part = (i) => {
      const c = parseInt(hex.slice(i, i + 2), 16) / 255;
      return c <= 0.04045 ? c / 12.92 : Math.pow((c + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5);
  }
  function contrast(a, b) {
    const [x, y] = [luminance(Meltlag.colour(a)), luminance(Meltlag.colour(b))];
    return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
  }
  function checkContrast() {
    for (const paper of ['paper', 'raised']) {
      for (const text of ['ink', 'soft', 'accent', 'before', 'right', 'after']) check(`contrast-${text}-${paper}`, contrast(text, paper) >= 4.5);
      for (const mark of ['wanted', 'measured', 'thin', 'thick', 'mark']) check(`contrast-${mark}-${paper}`, contrast(mark, paper) >= 3);
    }
    check('contrast-ink-ghost', contrast('ink', 'ghost') >= 4.5);
  }

  // Charts that stand alone, as on the pages of other commands.
  async function checkBlocks() {
    for (const figure of document.querySelectorAll('figure[data-chart]')) {
      const plot = figure.querySelector('.plot');
      const ticks = () => [...plot.querySelectorAll('.dygraph-axis-label-x')].map((e) => e.textContent).join();
      const drawn = () => plot.querySelector('canvas').toDataURL();
      check('block-legend', figure.querySelectorAll('.legend span').length > 0);
      // A small chart has few ticks, which one step may leave where they are; the lines move at each.
      await changes('block-zoom-drawn', drawn, () => key(plot, '+'));
      await changes('block-zoom', ticks, () => { key(plot, '+'); key(plot, '+'); });
      await changes('block-pan', drawn, () => key(plot, 'ArrowRight'));
    }
  }

  async function checkCharts() {
    const plot = $('#plot-flow');
    await changes('zoom-button', axis, () => $('#flow-tools button[aria-label="Zoom in"]').click());
    await changes('pan-key', axis, () => key(plot, 'ArrowRight'));
    await changes('zoom-key', axis, () => key(plot, '+'));
    const runOn = document.querySelectorAll('#plot-runOn .dygraph-axis-label-x');
    check('linked', [...runOn].map((e) => e.textContent).join() === axis());
    await changes('all-key', axis, () => key(plot, 'Home'));
    $('#go-line').value = CHECK_LINE;
    $('#flow-tools form').requestSubmit();
    await wait(600);
    check('jump', $('#flow-readout').textContent.startsWith('Line ' + CHECK_LINE + ','));
    check('jump-bed', $('#bed-readout').textContent.startsWith('Line ' + CHECK_LINE + ','));
  }

  // Where the stretch of a line is in the picture, in CSS pixels.
  function middleOf(line) {
    const p = Meltlag.path, v = Meltlag.bed.view, canvas = $('.beds canvas');
    let i = Meltlag.atLine(p, line);
    const x = (p.x[i] + p.x[i - 1]) / 2, y = (p.y[i] + p.y[i - 1]) / 2;
    return [canvas.clientWidth / 2 + (x - v.x) * v.scale, canvas.clientHeight / 2 - (y - v.y) * v.scale];
  }
  function pointer(canvas, type, [x, y]) {
    const box = canvas.getBoundingClientRect();
    canvas.setPointerCapture = () => {};  // only real pointers can be captured
    canvas.dispatchEvent(new PointerEvent(type, {pointerId: 7, clientX: box.x + canvas.clientLeft + x, clientY: box.y + canvas.clientTop + y}));
  }

  async function checkBed() {
    const slider = $('.strip input'), canvas = $('.beds canvas');
    const other = slider.value === '1' ? '2' : '1';
    await changes('layer', () => picture(0), () => { slider.value = other; slider.dispatchEvent(new Event('input')); });
    await changes('layer-key', () => picture(0), () => key(canvas, slider.value === '1' ? 'PageUp' : 'PageDown'));
    await changes('bed-zoom-key', () => picture(0), () => key(canvas, '+'));
    await changes('bed-shared', () => picture(pictures - 1), () => key(canvas, 'ArrowLeft'));
    key(canvas, 'Enter');
    await wait(300);
    check('bed-enter', $('#bed-readout').textContent.startsWith('Line '));
    Meltlag.bed.setLayer(Meltlag.path.layer[Meltlag.atLine(Meltlag.path, CHECK_LINE)]);
    Meltlag.bed.showAll();
    await wait(600);
    const at = middleOf(CHECK_LINE);
    pointer(canvas, 'pointerdown', at);
    pointer(canvas, 'pointerup', at);
    await wait(600);
    check('bed-click', $('#bed-readout').textContent.startsWith('Line ' + CHECK_LINE + ','));
    check('bed-click-chart', $('#flow-readout').textContent.startsWith('Line ' + CHECK_LINE + ','));
  }

  async function checkWorst() {
    const rows = document.querySelectorAll('#worst tbody tr');
    check('worst-count', rows.length > 0 && rows.length <= 20);
    const last = rows[rows.length - 1], line = last.children[6].textContent;
    last.querySelector('button').click();
    await wait(600);
    check('worst-shows', $('#bed-readout').textContent.startsWith('Line ' + line + ','));
  }

  // Measured rows: three pictures of each kind that show the same row, and the worst stretches.
  async function checkMeasured(kind, k) {
    const drawn = (name) => () => $(`#m${k}-plot-${name} canvas`).toDataURL();
    const said = (name) => kind.readouts[name].textContent, over = $(`#m${k}-plot-over`);
    const scatter = $(`.measured[data-kind="${k}"][data-picture="against"] canvas`);
    const range = () => kind.group.range.join();
    await changes('measured-zoom-key', range, () => key(over, '+'));
    await changes('measured-linked', drawn('off'), () => key(over, 'ArrowRight'));
    await changes('measured-all', range, () => key($(`#m${k}-plot-off`), 'Home'));
    const i = kind.rows.count >> 1, line = kind.rows.line[i];
    $(`#m${k}-line-off`).value = line;
    await changes('measured-jump', drawn('over'), () => $(`#m${k}-line-off`).form.requestSubmit());
    check('measured-line', new RegExp('^Lines? ' + line + '\\b').test(said('off')));
    const chosen = kind.chosen;
    await changes('measured-step-scatter', () => scatter.toDataURL(), () => key(scatter, 'ArrowRight'));
    check('measured-next', kind.chosen === chosen + 1 && said('against') === kind.rows.words(kind.chosen));
    key(over, 'p');
    check('measured-previous', kind.chosen === chosen && said('over') === kind.rows.words(chosen));
    const at = [kind.scatter.x(kind.rows.predicted[i]), kind.scatter.y(kind.rows.measured[i])];
    check('measured-nearest', Math.abs(kind.rows.predicted[kind.scatter.nearest(...at)] - kind.rows.predicted[i]) < 1e-9);
    for (let r = 0; r < kind.rows.count; ++r)
      if (Math.abs(kind.rows.off(r)) > 2.01 * kind.rows.sd[r] && !kind.rows.words(r).endsWith('more than expected')) check('measured-beyond', false);
  }
  async function checkStretches() {
    const buttons = document.querySelectorAll('#worst button');
    check('stretches', buttons.length > 0 && buttons.length === document.querySelectorAll('#worst tbody tr').length);
    for (const button of buttons) {
      button.click();
      await wait(300);
      const row = button.closest('tr'), line = row.querySelector('td[data-json$="first_line"]').textContent.split('–').map(Number);
      check('stretch-chosen', row.classList.contains('chosen'));
      check('stretch-shown', Meltlag.measured.some((kind) => kind.chosen !== undefined && kind.rows.line[kind.chosen] >= line[0] &&
                                                             kind.rows.line[kind.chosen] <= line[line.length - 1]));
    }
  }

  const named = (element) => element.offsetParent === null || element.getAttribute('aria-label') || element.textContent.trim();
  try {
    check('fits', root.scrollWidth <= window.innerWidth);
    check('width', !CHECK_WIDTH || window.innerWidth === CHECK_WIDTH);
    check('requests', performance.getEntriesByType('resource').length === 0);
    check('names', [...document.querySelectorAll('button, input, select, .beds canvas, .strip canvas, .scatter canvas, .plot')].every(named));
    checkContrast();
    await checkBlocks();
    if (Meltlag.path) {
      await checkCharts();
      await checkBed();
      await checkWorst();
    }
    for (const [k, kind] of Meltlag.measured.entries()) await checkMeasured(kind, k);
    if (Meltlag.measured.length) await checkStretches();
  } catch (error) {
    failed.push('exception:' + error.message.replace(/["\s]/g, '_'));
  }
  root.dataset.checks = failed.length ? failed.join(' ') : 'all-hold';
})();
