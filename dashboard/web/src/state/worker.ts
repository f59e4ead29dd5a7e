/** A worker is asked for a newer version this often while a page stays open, ms. */
const UPDATE_EVERY_MS = 3_600_000;

/** Starts the service worker where the browser has one, keeps it current, and goes where a tapped notification leads. */
export async function startWorker(): Promise<void> {
  const workers = navigator.serviceWorker;
  if (!window.isSecureContext || !workers) return;
  workers.addEventListener('message', ({ data }: MessageEvent<{ openPath?: string } | null>) => {
    const hash = data?.openPath?.split('#')[1];
    if (hash !== undefined) location.hash = hash;
  });
  try {
    const registration = await workers.register('/sw.js', { updateViaCache: 'none' });
    setInterval(() => void registration.update().catch(() => undefined), UPDATE_EVERY_MS);
  } catch {
    // The screens work without it; what needs it says so itself.
  }
}
