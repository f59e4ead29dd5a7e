/** The place of the row that is lit: the guide stands for the balance while the rig is being set up, else it was opened from the rig. */
export const litPlace = (current: string, isSettingUp: boolean): string => (current !== 'guide' ? current : isSettingUp ? 'balance' : 'rig');
