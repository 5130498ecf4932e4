// Shows what is typed at once. Everything works without this script by buttons.
'use strict';

(() => {
  const form = document.getElementById('sheet');
  const say = document.getElementById('say');
  let timer = 0;
  // Requests go one after the other, so that each knows what the last has changed.
  let last = Promise.resolve();
  let shows = false;
  let loaded = null;

  const field = (id) => document.getElementById(id);

  // What the desk knows of each field; one that holds something else has been changed
  // here and is sent.
  const known = new Map();
  for (const at of document.querySelectorAll('[data-live]')) {
    const chosen = at.matches('select') ? at.querySelector('option[selected]') : null;
    known.set(at.id, at.matches('select') ? (chosen ? chosen.value : '') : at.defaultValue);
  }

  // Takes what changed from a page of the desk into this one; `sent`: what the fields
  // held when it was asked for.
  function take(text, fields, sent) {
    const page = new DOMParser().parseFromString(text, 'text/html');
    const at = document.activeElement;
    const focused = at && at.id;
    const all = fields || !page.getElementById('notice').hidden;
    const open = new Set([...document.querySelectorAll('details[open][id]')].map((d) => d.id));
    for (const now of page.querySelectorAll('[data-part]')) {
      const was = field(now.id);
      if (!was || was.outerHTML === now.outerHTML) continue;
      for (const details of now.querySelectorAll('details[id]')) {
        const known = field(details.id);
        if (known) details.toggleAttribute('open', open.has(details.id));
      }
      was.replaceWith(document.importNode(now, true));
    }
    for (const now of page.querySelectorAll('[data-live]')) {
      const was = field(now.id);
      if (!was) continue;
      for (const name of ['aria-invalid', 'aria-describedby']) {
        if (now.hasAttribute(name)) was.setAttribute(name, now.getAttribute(name));
        else was.removeAttribute(name);
      }
      // What has been typed meanwhile stays and is sent next.
      const same = was.value === sent.get(was.id);
      known.set(was.id, sent.get(was.id));
      if (same && (all || was !== document.activeElement)) {
        was.value = now.value;
        known.set(was.id, now.value);
      }
    }
    if (focused && document.activeElement !== field(focused) && field(focused)) {
      field(focused).focus({ preventScroll: true });
    }
    const summary = field('summary');
    if (summary && say.textContent !== summary.textContent) say.textContent = summary.textContent;
  }

  async function send(action, options, fields) {
    document.body.setAttribute('aria-busy', 'true');
    const held = [...document.querySelectorAll('[data-live]')].map((at) => [at.id, at.value]);
    let answer = null;
    let text;
    try {
      answer = await fetch(action, { method: 'POST', ...options() });
      text = await answer.text();
    } catch {
      text = 'The desk does not answer. Is it still running?';
    }
    document.body.removeAttribute('aria-busy');
    if (answer && answer.ok) take(text, fields, new Map(held));
    else tell(text);
    return Boolean(answer && answer.ok);
  }

  function ask(action, options, fields) {
    last = last.then(() => send(action, options, fields));
    return last;
  }

  function tell(text) {
    const notice = field('notice');
    const line = document.createElement('p');
    line.textContent = text;
    notice.replaceChildren(line);
    notice.className = 'notice bad';
    notice.hidden = false;
    notice.focus();
  }

  function post(action, button, fields) {
    clearTimeout(timer);
    const options = () => {
      shows = false;
      const data = new FormData(form);
      for (const [id, value] of known) {
        if (data.get(id) === value) data.delete(id);
      }
      if (button && button.name) data.append(button.name, button.value);
      return { body: new URLSearchParams(data), headers: { 'X-Live': '1' } };
    };
    return ask(action, options, fields);
  }

  // One that waits takes whatever is typed until it goes.
  function show() {
    if (shows) return last;
    shows = true;
    return post('/do/show', null, false);
  }

  function upload(at) {
    const file = field('profile-file').files[0];
    if (!file) return tell('Choose a file first.');
    if (file.size > Number(at.dataset.most)) {
      return tell(`${file.name} has ${file.size} octets; at most ${at.dataset.most} are taken.`);
    }
    const body = new FormData(at);
    return ask('/profile', () => ({ body }), true).then((good) => {
      if (good) loaded = file;
    });
  }

  // A file that has changed since it was chosen can no longer be read (File API, 4).
  async function hasChanged() {
    try {
      if (loaded) await loaded.slice(0, 1).arrayBuffer();
      return false;
    } catch {
      return true;
    }
  }

  document.addEventListener('submit', async (event) => {
    event.preventDefault();
    if (event.target.id === 'upload') return upload(event.target);
    const button = event.submitter;
    const action = button && button.getAttribute('formaction');
    if (!action || action === '/do/show') return show();
    if (action === '/do/file' || action === '/do/anew') loaded = null;
    if (action === '/do/issue' && (await hasChanged())) {
      return tell(`${loaded.name} has changed since it was loaded. Load it again.`);
    }
    await post(action, button, true);
    const notice = field('notice');
    const order = { '/do/level': 'level', '/do/withhold': 'withhold' }[action];
    if (order && notice.classList.contains('good')) {
      for (const input of document.querySelectorAll(`input[id^="${order}."]`)) input.value = '';
    }
    if (!notice.hidden && (!document.activeElement || document.activeElement === document.body)) {
      notice.focus();
    }
    return undefined;
  });

  document.addEventListener('input', (event) => {
    if (!event.target.matches('[data-live]')) return;
    clearTimeout(timer);
    timer = setTimeout(show, 250);
  });

  // A checkbox or the end of an entry need not wait.
  document.addEventListener('change', (event) => {
    if (event.target.matches('[data-live], [data-now]')) show();
    if (event.target.id === 'profile-file' && event.target.files.length) {
      event.target.form.requestSubmit();
    }
  });

  // Enter in the fields of an order gives the order.
  document.addEventListener('keydown', (event) => {
    const button = event.target.dataset && event.target.dataset.enter;
    if (event.key === 'Enter' && button) {
      event.preventDefault();
      field(button).click();
    }
  });

  document.addEventListener('click', (event) => {
    const pick = event.target.closest('[data-pick]');
    if (pick) {
      event.preventDefault();
      field('level.pressure_hpa').value = pick.value;
      field('level.action').value = 'drop';
      field('level.reason').focus();
    }
    const key = event.target.closest('a[data-field]');
    if (key) {
      const wanted = field(key.dataset.field);
      if (wanted) {
        event.preventDefault();
        const details = wanted.closest('details');
        if (details) details.open = true;
        wanted.focus();
      }
    }
  });

  // A level is marked in the picture and in the table together.
  for (const kind of ['pointerover', 'focusin']) {
    document.addEventListener(kind, (event) => {
      for (const one of document.querySelectorAll('.on')) one.classList.remove('on');
      const at = event.target.closest('[data-level]');
      if (!at) return;
      const same = `[data-level="${at.dataset.level}"]`;
      for (const one of document.querySelectorAll(same)) one.classList.add('on');
    });
  }

  document.body.classList.add('scripted');
})();
