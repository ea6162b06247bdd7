// The one line to the server. It comes back by itself, and whoever listens hears everything from the beginning again.
const listeners = new Set();
let socket = null;
let version = null;
let tries = 0;
let number = 0;
let timer = 0;

export const listen = (listener) => listeners.add(listener);
const tell = (message) => { for (const one of listeners) one(message); };

export function send(command) {
  if (!socket || socket.readyState !== WebSocket.OPEN) {
    tell({ type: 'refused', text: 'Not connected just now; the line is being looked for. Press again in a moment.' });
    return false;
  }
  socket.send(JSON.stringify({ ...command, re: ++number }));
  return true;
}

function again() {
  clearTimeout(timer);
  const wait = Math.min(100 * 2 ** tries, 700);  // whenever it is back, the page is within a second
  tries += 1;
  timer = setTimeout(connect, wait);
}

export function connect() {
  clearTimeout(timer);
  if (socket && socket.readyState <= WebSocket.OPEN) return;
  const mine = new WebSocket(`${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/bench`);
  socket = mine;
  let greeted = false;
  mine.onmessage = (event) => {
    const message = JSON.parse(event.data);
    if (message.type === 'hello') {
      tries = 0;
      greeted = true;
      if (version !== null && version !== message.version) {
        tell({ type: 'renewed' });
        setTimeout(() => location.reload(), 700);
        return;
      }
      version = message.version;
      tell({ type: 'connected' });
    }
    tell(message);
  };
  mine.onclose = async () => {
    if (socket !== mine) return;
    socket = null;
    if (!greeted && await locked()) return tell({ type: 'locked' });
    tell({ type: 'gone' });
    again();
  };
}

// A tablet that wakes up, a network that is back: at once, not when the next try would have come.
for (const event of ['online', 'focus', 'pageshow']) addEventListener(event, () => { if (!socket) { tries = 0; connect(); } });
document.addEventListener('visibilitychange', () => { if (!document.hidden && !socket) { tries = 0; connect(); } });

/** A line that never opened: perhaps the program was started anew and asks for its token again. */
async function locked() {
  const answer = await fetch('/api/ports').catch(() => null);
  return answer?.status === 401;
}
/** A token in the address is shown once and then taken out of it. */
export async function enter() {
  const token = new URLSearchParams(location.hash.slice(1)).get('token');
  if (!token) return;
  history.replaceState(null, '', location.pathname);
  await show_token(token).catch(() => false);
}
export async function show_token(token) {
  const answer = await fetch('/token', { method: 'POST', body: token });
  return answer.ok;
}
