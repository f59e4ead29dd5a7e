/** The folders of a file's absolute path. */
const FOLDERS = /(^|[\s"'(])(?:\/[^\s/"':;,()]+)+\/(?=[^\s/])/g;

/** A text for the screens without them: where on the box its files lie is for the log. */
export const withoutFolders = (text: string): string => text.replace(FOLDERS, '$1');
