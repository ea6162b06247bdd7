// What is heard, what is spoken, and a screen that stays awake; each with a switch that is remembered on this device.
const kept = JSON.parse(localStorage.getItem('switchwright') || '{}');
export const settings = { tones: true, speech: false, pedal: false, itself: false, theme: 'system', ...kept };
const heard = new Set();
export const on_settings = (f) => heard.add(f);

export function set(name, value) {
  settings[name] = value;
  localStorage.setItem('switchwright', JSON.stringify(settings));
  apply_theme();
  if (name === 'speech' && !value && window.speechSynthesis) speechSynthesis.cancel();
  for (const f of heard) f();
}

export function apply_theme() {
  const root = document.documentElement;
  if (settings.theme === 'system') root.removeAttribute('data-theme');
  else root.dataset.theme = settings.theme;
}

let audio = null;
function note(at, frequency, length, shape = 'sine', loud = 0.18) {
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  oscillator.type = shape;
  oscillator.frequency.value = frequency;
  const from = audio.currentTime + at;
  gain.gain.setValueAtTime(0, from);
  gain.gain.linearRampToValueAtTime(loud, from + 0.012);
  gain.gain.exponentialRampToValueAtTime(0.001, from + length);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(from);
  oscillator.stop(from + length + 0.02);
}
// Told apart by rhythm and direction as well as by pitch.
const tones = {
  settled: () => note(0, 880, 0.16),
  deviates: () => { note(0, 300, 0.16, 'triangle', 0.3); note(0.2, 300, 0.22, 'triangle', 0.3); },
  pass: () => { note(0, 523, 0.2); note(0.16, 659, 0.2); note(0.32, 784, 0.45); },
  undecided: () => { note(0, 523, 0.25); note(0.28, 523, 0.35); },
  fail: () => { note(0, 392, 0.3, 'triangle', 0.3); note(0.28, 311, 0.3, 'triangle', 0.3); note(0.56, 233, 0.6, 'triangle', 0.3); },
  alarm: () => { for (let i = 0; i < 3; ++i) note(i * 0.25, 988, 0.14, 'square', 0.12); },
};
export function tone(name) {
  window.dispatchEvent(new CustomEvent('tone', { detail: name }));  // also for whoever wants to show it
  if (!settings.tones || !window.AudioContext) return;
  try {
    audio ||= new AudioContext();
    if (audio.state === 'suspended') audio.resume();
    tones[name]();
  } catch { /* a device without sound is a quiet one */ }
}
addEventListener('pointerdown', () => { if (settings.tones && window.AudioContext) { audio ||= new AudioContext(); audio.resume(); } }, { once: true });

export const can_speak = () => 'speechSynthesis' in window;
export function speak(text) {
  if (!settings.speech || !can_speak()) return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text.replace(/\b([A-Z]+)(\d)\b/g, '$1 $2'));
  words.lang = 'en';
  speechSynthesis.speak(words);
}

let lock = null;
let awake = false;
export async function keep_awake(on) {
  awake = on;
  if (!on) { lock?.release().catch(() => {}); lock = null; return; }
  if (lock || document.hidden || !navigator.wakeLock) return;
  try {
    lock = await navigator.wakeLock.request('screen');
    lock.addEventListener('release', () => { lock = null; });
  } catch { lock = null; }
}
document.addEventListener('visibilitychange', () => { if (awake && !document.hidden) keep_awake(true); });
