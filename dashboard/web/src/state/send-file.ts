export interface Sending {
  /** Told how much of the file has gone, 0 to 1. */
  onSent(share: number): void;
  /** Told when the box has all of it. */
  onWhole?(): void;
}

/** Sends a file to the box. By XMLHttpRequest, since fetch tells nothing of how far a body has gone. Throws with the reason in words. @param silence what to say when the box does not answer */
export function sendFile<T>(path: string, file: File, silence: string, { onSent, onWhole = () => {} }: Sending): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.upload.onprogress = ({ loaded, total }) => onSent(total > 0 ? loaded / total : 0);
    request.upload.onload = onWhole;
    request.onerror = () => reject(new Error(silence));
    request.onload = () => {
      const body = parsed(request.responseText);
      if (request.status >= 200 && request.status < 300 && body) resolve(body as T);
      else reject(new Error(String(body?.message ?? `The box answered with ${request.status}.`)));
    };
    request.open('POST', path);
    request.setRequestHeader('content-type', 'application/octet-stream');
    request.send(file);
  });
}

function parsed(text: string): Record<string, unknown> | null {
  try {
    return JSON.parse(text) as Record<string, unknown>;
  } catch {
    return null;
  }
}
