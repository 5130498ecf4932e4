// Shows what is typed at once, and follows the desk. Everything but following works
// without this script by buttons.
'use strict';

(() => {
  const form = document.getElementById('sheet');
  const say = document.getElementById('say');
  const field = (id) => document.getElementById(id);
  const all = (what) => [...document.querySelectorAll(what)];

  // What this page has seen: the run of the desk and the number of its last change.
  let boot = document.body.dataset.boot;
  let seen = Number(document.body.dataset.seen);
  // Requests go one after the other, so that each knows what the last has changed.
  let last = Promise.resolve();
  let waits = false;
  let gone = false;
  let loaded = null;

  // What the desk has of each field; one that holds something else has been changed
  // here and is sent. What the desk makes of it stands in the field when it is left.
  const known = new Map();
  const made = new Map();
  for (const at of all('[data-live]')) {
    const chosen = at.matches('select') ? at.querySelector('option[selected]') : null;
    known.set(at.id, at.matches('select') ? (chosen ? chosen.value : '') : at.defaultValue);
  }
  const changed = (at) => at.value !== known.get(at.id);

  // --- what the desk sends

  function put(id, markup) {
    const was = field(id);
    if (!was) return;
    const holder = document.createElement('template');
    holder.innerHTML = markup;
    const now = holder.content.firstElementChild;
    const at = document.activeElement;
    const focused = at && was.contains(at) ? at.id : null;
    // What is open stays open, unless it has become another thing.
    const summary = (details) => details.querySelector('summary').textContent;
    if (now.matches('details') && summary(now) === summary(was)) now.open = was.open;
    for (const details of now.querySelectorAll('details[id]')) {
      const open = field(details.id);
      if (open && !now.matches('[open]')) details.toggleAttribute('open', open.open);
    }
    // What was typed into a part stays in it.
    for (const input of was.querySelectorAll('input[id]:not([data-live], [data-now], [type=hidden])')) {
      const same = now.querySelector(`[id="${input.id}"]`);
      if (same && input.type === 'file') same.replaceWith(input);
      else if (same && input.type === 'checkbox') same.checked = input.checked;
      else if (same) same.value = input.value;
    }
    const top = was.scrollTop;
    was.replaceWith(now);
    now.scrollTop = top;
    ready(now);
    if (focused && field(focused)) field(focused).focus({ preventScroll: true });
  }

  function take(news, sent) {
    boot = news.boot;
    seen = news.seen;
    for (const [id, markup] of Object.entries(news.parts)) {
      put(id, markup);
      if (id.startsWith('fault-')) mind(id);
    }
    if (sent) for (const [id, value] of sent) if (known.has(id)) known.set(id, value);
    for (const [id, value] of Object.entries(news.values)) {
      const at = field(id);
      if (!at) continue;
      // What has been typed meanwhile stays and is sent next; what was just typed is not
      // written over under the fingers.
      if (changed(at)) continue;
      if (sent && sent.has(id) && at === document.activeElement && at.matches('input')) made.set(id, value);
      else hold(at, value);
    }
    const summary = field('summary');
    if (summary && say.textContent !== summary.textContent) say.textContent = summary.textContent;
    dim();
    mark();
  }

  function hold(at, value) {
    if (at.matches('select') && ![...at.options].some((o) => o.value === value)) {
      at.add(new Option(value, value));
    }
    at.value = value;
    known.set(at.id, value);
    made.delete(at.id);
  }

  // A field with a fault says so.
  function mind(id) {
    const fault = field(id);
    const at = field(id.slice('fault-'.length));
    if (!fault || !at) return;
    const wrong = !fault.hidden && !fault.classList.contains('needed');
    if (wrong) {
      at.setAttribute('aria-invalid', 'true');
      at.setAttribute('aria-describedby', id);
    } else {
      at.removeAttribute('aria-invalid');
      at.removeAttribute('aria-describedby');
    }
  }

  // What needs the script is shown with it.
  function ready(within) {
    for (const at of within.querySelectorAll('[data-copy], [data-enlarge]')) at.hidden = false;
  }

  // --- what is sent

  const head = () => ({ 'X-Live': `boot=${boot}&seen=${seen}` });

  async function send(action, options) {
    document.body.setAttribute('aria-busy', 'true');
    let answer;
    let sent;
    try {
      const made = options();
      sent = made.sent;
      answer = await fetch(action, { method: 'POST', ...made.request });
    } catch {
      lost();
      return false;
    } finally {
      document.body.removeAttribute('aria-busy');
    }
    if (!answer.ok) {
      refuse(await answer.text());
      return false;
    }
    let news;
    try {
      news = await answer.json();
    } catch {
      lost();
      return false;
    }
    found();
    take(news, sent);
    // Diagram and levels wait for a pause in typing.
    if (news.more) later(action === '/do/show' ? 400 : 40);
    return true;
  }

  function ask(action, options) {
    last = last.then(() => send(action, options));
    return last;
  }

  // Only what has been changed here, with the revision that this page showed.
  function post(action, button) {
    return ask(action, () => {
      waits = false;
      const data = new FormData(form);
      const sent = new Map();
      for (const at of all('[data-live]')) {
        if (changed(at)) sent.set(at.id, at.value);
        else data.delete(at.name);
      }
      if (button && button.name) data.append(button.name, button.value);
      return { sent, request: { body: new URLSearchParams(data), headers: head() } };
    });
  }

  // At once; while one is under way, the next takes all that is typed until it goes.
  function show() {
    if (waits) return last;
    waits = true;
    return post('/do/show', null);
  }

  function upload(at) {
    const file = field('profile-file').files[0];
    if (!file) return refuse('Choose a file first.');
    if (file.size > Number(at.dataset.most)) {
      return refuse(`${file.name} has ${file.size} bytes; at most ${at.dataset.most} are taken.`);
    }
    const body = new FormData(at);
    return ask('/profile', () => ({ request: { body, headers: head() } })).then((good) => {
      if (good) loaded = file;
      if (good) field('profile-file').value = '';
    });
  }

  // --- what the desk tells: diagram and levels after the message, other pages' changes

  let soon = 0;
  function later(pause = 40) {
    clearTimeout(soon);
    soon = setTimeout(() => {
      last = last.then(async () => {
        // What is typed comes first.
        if (waits) return later(pause);
        try {
          const answer = await fetch(`/parts?boot=${boot}&seen=${seen}`);
          if (!answer.ok) return lost();
          const news = await answer.json();
          found();
          take(news, null);
        } catch {
          lost();
        }
        return undefined;
      });
    }, pause);
  }

  let events = null;
  function follow() {
    if (events) events.close();
    events = null;
    // A page that is not seen needs no connection; it looks when it is seen again.
    if (document.hidden) return;
    events = new EventSource('/events');
    events.onmessage = (event) => {
      if (gone || Number(event.data) > seen) later();
    };
    events.onerror = () => later();
  }
  document.addEventListener('visibilitychange', () => {
    follow();
    if (!document.hidden) later();
  });
  addEventListener('pagehide', () => { if (events) events.close(); });

  // --- the desk is gone, and back

  let tries = 0;
  function lost() {
    const bar = field('gone');
    if (!gone) {
      const at = new Date().toISOString().slice(11, 16);
      bar.textContent = `The desk has not answered since ${at} UTC. What you type stays in this page and goes to the desk when it answers again; nothing can be issued until then.`;
      bar.hidden = false;
    }
    gone = true;
    dim();
    clearTimeout(tries);
    tries = setTimeout(later, 1500);
  }

  function found() {
    if (!gone) return;
    gone = false;
    clearTimeout(tries);
    field('gone').hidden = true;
    follow();
    if (all('[data-live]').some(changed)) show();
  }

  // While the desk is gone its buttons do nothing, and look like it.
  function dim() {
    document.body.classList.toggle('lost', gone);
    for (const button of all('button[type=submit]')) {
      if (gone) button.setAttribute('aria-disabled', 'true');
      else button.removeAttribute('aria-disabled');
    }
  }

  // Says what was refused before it reached the session.
  function refuse(text) {
    const notice = field('notice');
    const line = document.createElement('p');
    line.textContent = text;
    notice.replaceChildren(line);
    notice.className = 'note bad';
    notice.hidden = false;
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

  // --- what the operator does

  document.addEventListener('submit', async (event) => {
    event.preventDefault();
    if (gone) return;
    if (event.target.id === 'upload') return upload(event.target);
    const button = event.submitter;
    const action = button && button.getAttribute('formaction');
    if (!action || action === '/do/show') return show();
    if (['/do/file', '/do/anew', '/do/resume'].includes(action)) loaded = null;
    if (action === '/do/issue' && (await hasChanged())) {
      return refuse(`${loaded.name} has changed since it was loaded. Load it again.`);
    }
    await post(action, button);
    const order = { '/do/level': 'level', '/do/withhold': 'withhold' }[action];
    if (order && field('notice').classList.contains('good')) {
      for (const input of all(`input[id^="${order}."]`)) input.value = '';
    }
    // A button that is gone leaves the focus near where it was.
    if (button && !button.isConnected && document.activeElement === document.body) {
      const near = { '/do/read': 'issue', '/do/resume': 'message', '/do/discard': 'message' }[action];
      if (near) field(near).focus({ preventScroll: true });
    }
    return undefined;
  });

  document.addEventListener('input', (event) => {
    if (event.target.matches('[data-live]')) show();
  });

  document.addEventListener('change', (event) => {
    if (event.target.matches('[data-live], [data-now]')) show();
    if (event.target.id === 'profile-file' && event.target.files.length) {
      event.target.form.requestSubmit();
    }
  });

  // A time begins with a date, which goes again where nothing is added: that of the hour
  // before the standard time, in which sondes go up, or of the hour after the release.
  const HOUR = 3600000;
  function date(at) {
    const other = { 'flight.release': ['flight.standard_time', -HOUR], 'flight.standard_time': ['flight.release', HOUR] }[at.id];
    const time = other ? Date.parse(field(other[0]).value) + other[1] : NaN;
    return Number.isNaN(time) ? document.body.dataset.today : new Date(time).toISOString().slice(0, 10);
  }
  document.addEventListener('focusin', (event) => {
    const at = event.target;
    if (at.matches('input.time') && at.value === '') at.value = `${date(at)} `;
  });
  document.addEventListener('focusout', (event) => {
    const at = event.target;
    if (at.matches('input.time') && /^\d{4}-\d\d-\d\d $/.test(at.value)) {
      at.value = '';
      if (changed(at)) show();
    }
    if (at.id && made.has(at.id) && !changed(at)) hold(at, made.get(at.id));
  });

  document.addEventListener('keydown', (event) => {
    // Enter in the fields of an order gives the order.
    const button = event.target.dataset && event.target.dataset.enter;
    if (event.key === 'Enter' && button) {
      event.preventDefault();
      field(button).click();
    }
    if (event.key === 'Escape') enlarge(false);
    const groups = event.target.matches('.group') ? all('.group') : [];
    const i = groups.indexOf(event.target);
    const step = { ArrowRight: i + 1, ArrowLeft: i - 1, ArrowDown: i + 10, ArrowUp: i - 10, Home: 0, End: groups.length - 1 };
    const next = i < 0 ? null : groups[step[event.key]];
    if (next) {
      event.preventDefault();
      event.target.tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
    }
  });

  function enlarge(large) {
    const button = document.querySelector('[data-enlarge]');
    if (!button) return;
    document.body.classList.toggle('large', large);
    button.setAttribute('aria-pressed', String(large));
    button.textContent = large ? 'Make small' : 'Enlarge';
  }

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
        for (let at = wanted; at; at = at.parentElement) if (at.matches('details')) at.open = true;
        wanted.focus();
      }
    }
    const copy = event.target.closest('[data-copy]');
    if (copy) {
      const text = all(copy.dataset.copy).map((pre) => pre.textContent).join('\n');
      navigator.clipboard.writeText(text).then(
        () => { copy.textContent = 'Copied'; },
        () => { copy.textContent = 'Not copied: the browser does not allow it'; },
      );
    }
    if (event.target.closest('[data-enlarge]')) enlarge(!document.body.classList.contains('large'));
  });

  // What belongs together is marked: a group, its level in the diagram, its row.
  const levels = (at) => (at.dataset.levels || at.dataset.level || '').split(' ').filter(Boolean);
  let marked = null;
  function mark() {
    if (!marked) return;
    for (const one of all('.on')) one.classList.remove('on');
    const group = marked.group && field(marked.group);
    if (group) group.classList.add('on');
    for (const one of all('[data-level]')) if (marked.of.includes(one.dataset.level)) one.classList.add('on');
    if (marked.group) return;
    for (const one of all('.group')) if (levels(one).some((l) => marked.of.includes(l))) one.classList.add('on');
  }
  for (const kind of ['pointerover', 'focusin']) {
    document.addEventListener(kind, (event) => {
      const link = event.target.closest('.of-group');
      const at = link ? field(link.getAttribute('href').slice(1)) : event.target.closest('.group, [data-level]');
      if (!at) return;
      marked = { of: levels(at), group: at.matches('.group') ? at.id : null };
      mark();
      const readout = field('readout');
      if (readout && at.title) readout.textContent = `${at.textContent}: ${at.title}`;
    });
  }

  ready(document);
  document.body.classList.add('scripted');
  follow();
})();
